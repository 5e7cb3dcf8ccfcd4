import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { slotLightAt } from '../../src/farm/light/slot-light.ts';
import { lotExposures } from '../../src/stock/light/exposure.ts';
import { type Ground, layGround, layRack, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, startBench } from '../support/service.ts';

// Daily light by its definition: PAR x seconds / 1e6. Ten hours lit with two ramps of two hours carry as much as
// eight hours of full light: 100 umol/(m2 s) x 8 h x 3600 s/h / 1e6 = 2.88 mol/m2.

const day = (date: string) => `2026-${date}T00:00:00Z`;
const now = new Date('2026-11-24T08:00:00Z');

describe('the light that lots have lived in', () => {
  let bench: Bench;
  let ground: Ground;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
  });
  afterAll(() => bench.close());

  const exposures = async (lotId: string, at = now) =>
    (await lotExposures(bench.service.pool, { lotIds: [lotId] }, at)).get(lotId);

  /** "2026-03-01 100 2.88 estimated" for each piece. */
  const told = async (lotId: string, at = now) =>
    (await exposures(lotId, at))?.map(
      (piece) =>
        `${piece.from.toISOString().slice(5, 10)}..${piece.to?.toISOString().slice(5, 10) ?? ''} ` +
        `${+piece.par.toFixed(3)} ${+piece.dli.toFixed(3)}${piece.estimated ? ' estimated' : ''}`,
    );

  const standing = async (slots: string[], from: string, to: string | null = null) => {
    const lotId = await lot(bench, ground.siteId);
    await place(
      bench,
      lotId,
      slots.map((name) => ground.slots[name]),
      from,
      to,
    );
    return lotId;
  };

  test('one survey at the setting in force is one measured piece, still lasting', async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, day('01-01'), 80);
    await survey(bench, ground, day('02-01'), 80, 100);
    const lotId = await standing(['A1'], day('03-01'));
    expect(await exposures(lotId)).toEqual([
      {
        from: new Date(day('03-01')),
        to: null,
        par: 100,
        parMax: 100,
        dli: expect.closeTo(2.88, 10),
        error: 10,
        slotId: ground.slots.A1,
        rackId: ground.rackId,
        estimated: false,
        hoursKnown: true,
      },
    ]);
  });

  test('before the first survey the light is not known, whatever the lamps were set to', async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, day('01-01'), 40);
    await turn(bench, ground.lampId, day('02-01'), 80);
    await survey(bench, ground, day('03-01'), 80, 120);
    const lotId = await standing(['A1'], day('01-15'));
    expect(await told(lotId)).toEqual(['03-01.. 120 3.456']);
  });

  test('lamps turned after a survey scale it until the next survey measures again', async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, day('01-01'), 50);
    await survey(bench, ground, day('01-02'), 50, 100);
    await turn(bench, ground.lampId, day('02-01'), 75);
    await survey(bench, ground, day('03-01'), 75, 140);
    const lotId = await standing(['B2'], day('01-10'));
    expect(await told(lotId)).toEqual([
      '01-10..02-01 100 2.88',
      '02-01..03-01 150 4.32 estimated',
      '03-01.. 140 4.032',
    ]);
  });

  test('a longer day from a date on is more daily light from that date on, and not before', async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, day('01-01'), 60, { litHours: 10, rampHours: 2 });
    await survey(bench, ground, day('01-02'), 60, 100);
    await turn(bench, ground.lampId, day('02-01'), 60, { litHours: 14, rampHours: 2 });
    const lotId = await standing(['A1'], day('01-10'));
    expect(await told(lotId)).toEqual(['01-10..02-01 100 2.88', '02-01.. 100 4.32']);
  });

  test('a move is a new piece; a turn that changes nothing is none', async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, day('01-01'), 60);
    await survey(bench, ground, day('01-02'), 60, { A1: 70, A2: 110 });
    await turn(bench, ground.lampId, day('02-10'), 60);
    const lotId = await standing(['A1'], day('02-01'), day('03-01'));
    await place(bench, lotId, [ground.slots.A2], day('03-01'));
    expect(await told(lotId)).toEqual(['02-01..03-01 70 2.016', '03-01.. 110 3.168']);
  });

  test('over several slots the mean counts, and the brightest is known', async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, day('01-01'), 60);
    await survey(bench, ground, day('01-02'), 60, { A1: 70, A2: 110, A3: 150 });
    const lotId = await standing(['A1', 'A2', 'A3'], day('02-01'));
    expect(await exposures(lotId)).toMatchObject([{ par: 110, parMax: 150, error: 11, estimated: false }]);
  });

  test('a slot without a survey gives no light; a lot partly on such slots an estimate', async () => {
    ground = await layGround(bench);
    await survey(bench, ground, day('01-02'), null, { A1: 70 });
    expect(await told(await standing(['B1'], day('02-01')))).toEqual([]);
    expect(await told(await standing(['A1', 'A2'], day('02-01')))).toEqual(['02-01.. 70 2.016 estimated']);
  });

  test('a voided survey counts for nothing', async () => {
    ground = await layGround(bench);
    await survey(bench, ground, day('01-02'), null, 100);
    const id = await survey(bench, ground, day('02-15'), null, 900);
    await bench.service.db.lightSurvey.update({
      where: { id },
      data: { voidedAt: now, voidReason: 'dry sensor' },
    });
    expect(await told(await standing(['A1'], day('02-01')))).toEqual(['02-01.. 100 2.88']);
  });

  test('under a rack without lamps the daily light is reckoned with ten hours, as an estimate', async () => {
    ground = await layGround(bench);
    const bare = await layRack(bench, { tankId: ground.tankId, lampId: null }, { name: 'Sill' });
    await survey(bench, bare, day('01-02'), null, 100);
    const lotId = await lot(bench, ground.siteId);
    await place(bench, lotId, [bare.slots.A1], day('02-01'));
    expect(await told(lotId)).toEqual(['02-01.. 100 3.6 estimated']);
  });

  test('asked for an earlier day, it knows nothing that came later', async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, day('01-01'), 50);
    await survey(bench, ground, day('01-02'), 50, 100);
    await turn(bench, ground.lampId, day('06-01'), 100);
    const lotId = await standing(['A1'], day('02-01'), day('07-01'));
    expect(await told(lotId, new Date(day('05-01')))).toEqual(['02-01.. 100 2.88']);
  });

  test('by system it tells the whole life of the lots that stand there now, elsewhere included', async () => {
    ground = await layGround(bench);
    const other = await layGround(bench);
    await survey(bench, ground, day('01-02'), null, 100);
    await survey(bench, other, day('01-02'), null, 40);
    const moved = await lot(bench, ground.siteId);
    await place(bench, moved, [other.slots.A1], day('02-01'), day('03-01'));
    await place(bench, moved, [ground.slots.A1], day('03-01'));
    const left = await standing(['A2'], day('02-01'), day('03-01'));
    const here = await lotExposures(bench.service.pool, { systemId: ground.systemId }, now);
    expect([...here.keys()]).toEqual([moved]);
    expect(here.get(moved)?.map((piece) => piece.par)).toEqual([40, 100]);
    expect(here.has(left)).toBe(false);
  });

  test('the last piece agrees with what the database says of the light now', async () => {
    ground = await layGround(bench);
    await turn(bench, ground.lampId, day('01-01'), 50);
    await survey(bench, ground, day('01-02'), 50, { A1: 100, A2: 61 });
    await turn(bench, ground.lampId, day('06-01'), 70);
    const light = await slotLightAt(bench.service.pool, Object.values(ground.slots), now);
    const { rows } = await bench.service.pool.query(
      'SELECT slot_id, par, error, estimated FROM slot_light_now WHERE slot_id = ANY($1::uuid[]) ORDER BY par',
      [Object.values(ground.slots)],
    );
    expect(rows).toHaveLength(2);
    for (const row of rows) {
      const here = light.get(row.slot_id);
      expect(here?.par).toBeCloseTo(row.par, 9);
      expect(here?.error).toBeCloseTo(row.error, 9);
      expect(here?.estimated).toBe(row.estimated);
    }
  });
});
