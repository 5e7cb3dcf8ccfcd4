import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { expectedPieces, growingLot, kindRate, toCutNow } from '../../src/stock/growth/forecast.rules.ts';
import { growthOf, type Sizes } from '../../src/stock/growth/growth.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

// Sizes, growth and what is to come: true worlds are drawn, measured as a farm would, and compared with what is said.

const start = new Date('2026-03-01T12:00:00Z');
const on = (day: number) => new Date(start.getTime() + day * 86_400_000);
const lengths = (day: number, ...sizes: number[]): Sizes => ({ at: on(day), measure: 'length_mm', sizes });

describe('the growth of a lot', () => {
  test('is told from two measurements a month apart: ln(b/a)/days (Hopkins 1992, from memory)', () => {
    const lot = growthOf([lengths(0, 20), lengths(100, 24)], 'length_mm', null);
    expect(lot.told && lot.growth.perDay).toBeCloseTo(Math.log(24 / 20) / 100, 12);
  });

  test.each([
    ['nothing measured', [], null, 'Never measured'],
    ['one day', [lengths(0, 20)], null, 'Too few to say'],
    ['a week apart', [lengths(0, 20), lengths(7, 21)], null, 'Too few to say'],
    ['within two months of the cut', [lengths(0, 20), lengths(50, 26)], on(0), 'regrowth'],
  ])('is not told with %s', (_, sizes, cutAt, why) => {
    const lot = growthOf(sizes, 'length_mm', cutAt);
    expect(lot.told ? '' : lot.why).toContain(why);
  });

  test('has an interval that holds the true rate 95 of 100 times', () => {
    const random = seededRandom(41);
    const rate = 0.002;
    let held = 0;
    for (let i = 0; i < 400; i++) {
      const days = [0, 30, 60, 90, 120];
      const all = days.map((day) =>
        lengths(day, ...Array.from({ length: 3 }, () => 25 * Math.exp(rate * day + 0.06 * random.normal()))),
      );
      const lot = growthOf(all, 'length_mm', null);
      if (lot.told && lot.growth.low <= rate && rate <= lot.growth.high) held += 1;
    }
    expect(held / 400).toBeGreaterThan(0.91);
    expect(held / 400).toBeLessThanOrEqual(1);
  });
});

describe('pieces to come', () => {
  /** A farm whose lots grow about one rate of their kind; each is measured over 120 days, and its truth is kept. */
  function world(seed: number) {
    const random = seededRandom(seed);
    const lots = Array.from({ length: 25 }, () => {
      const rate = 0.002 + 0.0004 * random.normal();
      const first = Array.from({ length: 8 }, () => Math.log(15.4) + 0.06 * random.normal());
      const days = [0, 40, 80, 120];
      const sizes = days.map((day) =>
        lengths(day, ...first.slice(0, 4).map((ln) => Math.exp(ln + rate * day + 0.02 * random.normal()))),
      );
      return { rate, first, sizes };
    });
    const growing = lots.flatMap(({ sizes, first }) => {
      const growth = growthOf(sizes, 'length_mm', null);
      return growingLot({ pieces: first.length, sizes, growth, saleSize: 22 }, null, on(120)) ?? [];
    });
    const reach = (day: number) =>
      lots
        .flatMap(({ rate, first }) => first.map((ln) => ln + rate * (120 + day)))
        .filter((ln) => ln >= Math.log(22)).length;
    return { growing, truth: reach(60) - reach(0) };
  }

  test('the interval of a stretch holds the true number nine of ten times', () => {
    const held = Array.from({ length: 60 }, (_, i) => {
      const { growing, truth } = world(300 + i);
      const [stretch] = expectedPieces(growing, [60]);
      return stretch !== undefined && stretch.low <= truth && truth <= stretch.high;
    }).filter(Boolean).length;
    expect(held).toBeGreaterThanOrEqual(48);
  });

  // 400,000 draws of three such lots, each piece with a size of its own that crosses sale size on its day: numpy 2.4.6.
  test('are as many by the month as the same stock drawn piece by piece', () => {
    const to = { target: Math.log(20), carries: 200 };
    const lots = [
      {
        pieces: 40,
        level: Math.log(15),
        levelSd: 0.03,
        spread: 0.1,
        age: 10,
        rate: { perDay: 0.003, sd: 4e-4 },
      },
      {
        pieces: 25,
        level: Math.log(17),
        levelSd: 0.02,
        spread: 0.08,
        age: 0,
        rate: { perDay: 0.0022, sd: 3e-4 },
      },
      {
        pieces: 12,
        level: Math.log(12),
        levelSd: 0.05,
        spread: 0.15,
        age: 30,
        rate: { perDay: 0.004, sd: 1e-3 },
      },
    ];
    const said = expectedPieces(
      lots.map((lot) => ({ ...lot, ...to })),
      [31, 62, 90],
    );
    const drawn = [
      [1, 5, 12],
      [5, 15, 32],
      [8, 20, 30],
    ];
    for (const [i, [low = 0, middle = 0, high = 0]] of drawn.entries()) {
      expect(Math.abs((said[i]?.middle ?? 99) - middle)).toBeLessThanOrEqual(1);
      expect(Math.abs((said[i]?.low ?? 99) - low)).toBeLessThanOrEqual(1);
      expect(Math.abs((said[i]?.high ?? 99) - high)).toBeLessThanOrEqual(2);
    }
  });

  test('says nothing further ahead than growth was measured', () => {
    const { growing } = world(1);
    const [near, far] = expectedPieces(growing, [100, 200]);
    expect(near?.beyond).toBe(0);
    expect(far).toMatchObject({ beyond: growing.length, middle: 0 });
  });

  test('a kind is reckoned from three lots on', () => {
    const rates = [0.001, 0.002, 0.003].map((perDay) => ({ perDay, sd: 0.0002, days: 120 }));
    expect(kindRate(rates.slice(0, 2))).toBeNull();
    expect(kindRate(rates)).toMatchObject({ lots: 3, days: 120 });
    expect(kindRate(rates)?.perDay).toBeCloseTo(0.002, 12);
  });
});

describe('what to cut now', () => {
  const rate = { perDay: 0.003, sd: 0.0005, lots: 6, days: 180 };
  const wanted = { pieces: 40, days: 200, cutSize: 15, saleSize: 20, rate, alive: { share: 0.8, low: 0.7 } };

  test('is more than is wanted, by what dies and what stays small', () => {
    const answer = toCutNow(wanted, 60);
    expect(answer.told && answer.middle).toBeGreaterThan(40 / 0.8);
    // By scipy 1.17.1, norm.sf: 77.65 % live and are large enough, 59.72 % to be fairly sure.
    expect(answer).toMatchObject({ told: true, middle: 52, sure: 67 });
    expect(answer.told && answer.share).toBeCloseTo(0.77651, 5);
  });

  test('is not told further ahead than growth was measured, nor where nothing gets there', () => {
    expect(toCutNow({ ...wanted, days: 400 }, 60)).toMatchObject({ told: false });
    expect(toCutNow({ ...wanted, days: 70, cutSize: 8 }, 60)).toMatchObject({ told: false });
  });
});

describe('on the service', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand');
  });
  afterAll(() => bench.close());

  test('sizes of several pieces are entered in one line, and become the size of the lot', async () => {
    const now = bench.service.now();
    const lot = await shelf.lot({ arrivedAt: new Date(now.getTime() - 200 * 86_400_000) });
    const when = (days: number) => new Date(now.getTime() - days * 86_400_000).toISOString().slice(0, 16);
    const enter = (sizes: string, days: number) =>
      hand.post(`/lots/${lot.id}/sizes`, { sizes, measure: 'length_mm', at: when(days) });
    expect((await enter('14 15.5', 90)).status).toBe(303);
    expect((await enter('16 17', 1)).status).toBe(303);
    const { sizeMm } = await bench.service.db.lot.findUniqueOrThrow({ where: { id: lot.id } });
    expect(sizeMm).toBe(16);
    const { body } = await hand.get(`/stock/${lot.code}/sizes`);
    expect(body).toMatch(/% a month \(.* to .*\), from 89 days of measuring/);
    expect(body).toContain('Sold from 20 mm');
    const refused = await enter('16 broken', 0);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Enter a size above 0 for each piece');
    const [size, newest] = await bench.service.db.sizeMeasurement.findMany({
      where: { lotId: lot.id },
      orderBy: { at: 'asc' },
    });
    const listed = async () =>
      (await bench.service.db.lot.findUniqueOrThrow({ where: { id: lot.id } })).sizeMm;
    // The size of the lot goes back with the newest: the middle of 14 and 15.5 mm is 14.7 mm.
    await hand.post(`/size-measurements/${newest?.id}/voiding`, { reason: 'another lot' });
    expect(await listed()).toBe(15);
    await hand.post(`/size-measurements/${size?.id}/voiding`, { reason: 'another lot' });
    expect(await listed()).toBeNull();
    expect((await hand.get(`/stock/${lot.code}/sizes`)).body).not.toContain('a month');
  });

  test('sizes are read with a decimal comma as with a point, and asked about where a comma may part two', async () => {
    const lot = await shelf.lot();
    const enter = (sizes: string) => hand.post(`/lots/${lot.id}/sizes`, { sizes, measure: 'length_mm' });
    for (const sizes of ['21,5', '21,5 22.5', '20, 21, 22', '20;21', '0,75'])
      expect((await enter(sizes)).status, sizes).toBe(303);
    const kept = await bench.service.db.sizeMeasurement.findMany({
      where: { lotId: lot.id },
      orderBy: { id: 'asc' },
    });
    expect(kept.map(({ sizes }) => sizes)).toEqual([[21.5], [21.5, 22.5], [20, 21, 22], [20, 21], [0.75]]);
    expect((await enter('21,22')).body).toContain('Write 21.22, or 21 22.');
    expect((await enter('20,21,22')).body).toContain('with spaces between');
  });

  test('sizes are typed and read in inches and ounces by whoever measures in them, and kept in mm, cm² and g', async () => {
    const lot = await shelf.lot();
    const west = await bench.as('hand', 'West Hand');
    await west.post('/account/units', { length: 'in', mass: 'oz' });
    const form = (await west.get(`/stock/${lot.code}/sizes`)).body;
    expect(form).toContain('Length (in)');
    expect(form).toContain('Area (in²)');
    const units = /name="_units" value="([^"]+)"/.exec(form)?.[1] ?? '';
    const enter = (measure: string, sizes: string) =>
      west.post(`/lots/${lot.id}/sizes`, { sizes, measure, _units: units });
    // 1 in is 25.4 mm, 1 in² 6.4516 cm² and 1 oz 28.349523125 g, by definition (NIST Handbook 44, Appendix C).
    for (const [measure, sizes] of [
      ['length_mm', '1.5 2'],
      ['area_cm2', '2'],
      ['mass_g', '1'],
    ] as const)
      expect((await enter(measure, sizes)).status).toBe(303);
    const kept = await bench.service.db.sizeMeasurement.findMany({ where: { lotId: lot.id } });
    const of = (measure: string) => kept.find((one) => one.measure === measure)?.sizes;
    expect(of('length_mm')).toEqual([38.1, 50.8]);
    expect(of('area_cm2')).toEqual([12.9032]);
    expect(of('mass_g')).toEqual([28.3495]);
    const seen = (await west.get(`/stock/${lot.code}/sizes`)).body;
    for (const words of ['1.732 in', '1.5, 2', '2 in²', '1 oz']) expect(seen).toContain(words);
    expect((await hand.get(`/stock/${lot.code}/sizes`)).body).toContain('44 mm');
  });

  test('the list of pieces to come says of what nothing is known', async () => {
    const { body } = await hand.get('/stock/forecast');
    expect(body).toContain('Pieces to come');
    expect(body).toMatch(/Not known for \d+ pieces?/);
    expect(body).toContain('No kind has enough measured lots yet');
  });
});
