import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

let bench: Bench;
let shelf: Shelf;
let hand: Visitor;
let lots: { id: string; code: string }[];
const days = 86_400_000;
/** Weekly photographs, the last one the day before. */
const takenAt = (n: number) => new Date(benchNow.getTime() - (1 + 7 * (9 - n)) * days);

beforeAll(async () => {
  bench = await startBench({ watching: false });
  shelf = await makeShelf(bench);
  hand = await bench.as('hand', 'Oda Berg');
  const arrivedAt = new Date(benchNow.getTime() - 100 * days);
  lots = [];
  for (let i = 0; i < 8; i++) lots.push(await shelf.lot({ arrivedAt, slotIds: [shelf.slot(`A${1 + i}`)] }));
  const random = seededRandom(6);
  for (let n = 0; n < 10; n++)
    await bench.service.db.rackPhotograph.create({
      data: {
        ...{ rackId: shelf.rackId, takenAt: takenAt(n), sha256: `photograph ${n}`, straightBytes: 0 },
        ...{ widthMm: 500, depthMm: 80, residualMm: 0.2, blurMm: 0.1, tiltDeg: 2 },
        lots: {
          create: lots.map(({ id }, i) => ({
            ...{ lotId: id, slots: `A${1 + i}`, whitenessError: 0.5, greenRed: 0, blueYellow: 0 },
            whiteness: 40 + i + (i === 2 && n >= 8 ? 6 : 0) + 0.4 * random.normal(),
            ...{ areaMm2: 400 + 8 * n, areaLowMm2: 350, areaHighMm2: 520 },
            outline: [
              [
                [40 * i + 5, 5],
                [40 * i + 30, 5],
                [40 * i + 30, 30],
              ],
            ],
          })),
        },
      },
    });
});

afterAll(() => bench.close());

const rowOf = (lotId: string, n: number) =>
  bench.service.db.rackPhotographLot.findFirstOrThrow({
    where: { lotId, photograph: { sha256: `photograph ${n}` } },
    include: { refusedBy: true },
  });
const pageOf = async (url: string) => (await hand.get(url)).body.replace(/\s+/g, ' ');
const alertsOn = async () => {
  await evaluateSystems(bench.service, [shelf.systemId], benchNow);
  return (await openAlerts(bench.service.pool, { siteId: shelf.siteId })).filter(
    ({ rule }) => rule === 'lightening',
  );
};
const [third, fourth] = [2, 3];

describe('what photographs of a rack measure of a lot', () => {
  test('stands on its page against its own past and its rack, and asks for a look where it is lighter', async () => {
    const page = await pageOf(`/stock/${lots[third]?.code}`);
    expect(page).toMatch(/Lighter than its own line by [56]\.\d L\*, \d+ % of the way to white/);
    expect(page).toContain('of this rack, two photographs of an unchanged lot differ by up to');
    expect(await pageOf(`/stock/${lots[fourth]?.code}`)).toContain('As white as its own line');
    const alerts = await alertsOn();
    expect(alerts.map(({ subjectId }) => subjectId)).toEqual([lots[third]?.id]);
    const alert = await pageOf(`/watch/${alerts[0]?.id}`);
    expect(alert).toContain('L* lighter than its own line');
    expect(alert).toContain(`/stock/${lots[third]?.code}/condition`);
  });

  test('is told on its page by the limits that the farm has set', async () => {
    const said = async () => {
      const page = await pageOf(`/stock/${lots[third]?.code}`);
      return /Lighter than its own line by [56]\.\d L\*[^.]*/.exec(page)?.[0] ?? '';
    };
    const { ruleSetting } = bench.service.db;
    const data = { rule: 'lightening', settings: { share: 40 }, reason: 'Colours turn with the season' };
    const { id } = await ruleSetting.create({ data });
    const strict = await said();
    await ruleSetting.delete({ where: { id } });
    expect(strict).toMatch(/L\* on/);
    expect(await said()).toContain('of the way to white');
  });

  test('is outlined on the rack’s page and the photograph’s: each slot leads to where its lot is put right', async () => {
    const newest = { sha256: 'photograph 9' };
    const { id } = await bench.service.db.rackPhotograph.findFirstOrThrow({ where: newest });
    expect(await pageOf(`/racks/${shelf.rackId}`)).not.toContain('As photographed');
    await bench.service.db.rackPhotograph.update({
      where: { id },
      data: { straight: new Uint8Array([255, 216]), straightBytes: 2 },
    });
    const row = await rowOf(lots[third]?.id ?? '', 9);
    const rack = await bench.service.db.rack.findUniqueOrThrow({ where: { id: shelf.rackId } });
    const [wide, deep] = [500 / rack.columns, 80 / rack.rows];
    const slot = `M${(Math.floor(95 / wide) * wide).toFixed(1)} 0.0h${wide.toFixed(1)}v${deep.toFixed(1)}h-${wide.toFixed(1)}Z`;
    for (const url of [`/racks/${shelf.rackId}`, `/rack-photographs/${id}`]) {
      const page = await pageOf(url);
      expect(page).toContain(`href="/rack-photographs/${id}/straight"`);
      const link = page.split(`<a href="/rack-photograph-lots/${row.id}" aria-label=`)[1] ?? '';
      expect(link).toContain(`d="${slot}"`);
      expect(link).toContain('d="M85 5L110 5L110 30Z"');
    }
    await bench.service.db.rackPhotograph.update({
      where: { id },
      data: { voidedAt: benchNow, voidReason: 'x' },
    });
    expect(await pageOf(`/racks/${shelf.rackId}`)).not.toContain('As photographed');
    await bench.service.db.rackPhotograph.update({
      where: { id },
      data: { voidedAt: null, voidReason: null },
    });
  });

  test('is refused with who and why, counts nowhere then, and comes back by Undo', async () => {
    const lot = lots[third] as (typeof lots)[number];
    const row = await rowOf(lot.id, 9);
    const href = `/rack-photograph-lots/${row.id}`;
    const page = await pageOf(href);
    expect(page).toContain('The outline is wrong');
    expect(page).toContain('not taken out: the file does not tell the lens');
    expect((await hand.post(`${href}/refusal`, { reason: '' })).body).toContain(
      'Enter what is wrong with it',
    );
    expect((await hand.post(`${href}/refusal`, { reason: 'the neighbour is in it' })).status).toBe(303);
    const after = await pageOf(href);
    expect(after).toContain('the neighbour is in it');
    expect(after).toContain('Oda Berg');
    expect(await alertsOn()).toEqual([]);
    expect((await hand.post(`${href}/refusal`, { reason: 'again' })).status).toBe(409);
    const undo = /action="(\/undo\/[^"]+)"/.exec(after)?.[1];
    expect((await hand.post(String(undo), {})).status).toBe(303);
    expect(await rowOf(lot.id, 9)).toMatchObject({ refusedAt: null, refuseReason: null, refusedBy: null });
    expect(await alertsOn()).toHaveLength(1);
    // Later than Undo reaches, it is let count by its own button.
    await hand.post(`${href}/refusal`, { reason: 'wrong after all' });
    expect((await hand.post(`${href}/counting`, {})).status).toBe(303);
    expect((await rowOf(lot.id, 9)).refusedAt).toBeNull();
    expect((await hand.post(`${href}/counting`, {})).status).toBe(409);
  });

  test('is given to the lot that it shows: two that were taken for each other change places, and back by Undo', async () => {
    const [one, other] = [lots[third], lots[fourth]] as [(typeof lots)[number], (typeof lots)[number]];
    const [mine, theirs] = [await rowOf(one.id, 5), await rowOf(other.id, 5)];
    const href = `/rack-photograph-lots/${mine.id}`;
    expect((await hand.post(`${href}/lot`, {})).body).toContain('Choose the lot, or enter its code.');
    expect((await hand.post(`${href}/lot`, { lot: one.code })).body).toContain('It is this lot’s already');
    expect((await hand.post(`${href}/lot`, { lot: 'no such lot' })).status).toBe(422);
    expect((await hand.post(`${href}/lot`, { onRack: other.code })).status).toBe(303);
    expect((await rowOf(one.id, 5)).id).toBe(theirs.id);
    expect((await rowOf(other.id, 5)).id).toBe(mine.id);
    const undo = /action="(\/undo\/[^"]+)"/.exec(await pageOf(href))?.[1];
    expect((await hand.post(String(undo), {})).status).toBe(303);
    expect((await rowOf(one.id, 5)).id).toBe(mine.id);
  });

  test('tells how its area grows, and lends that to the day of sale where no hand measured it', async () => {
    const page = await pageOf(`/stock/${lots[0]?.code}/sizes`);
    expect(page).toMatch(/Area in photographs grows<\/dt><dd>[\d.]+ % a month/);
    expect(page).toContain('sizes by hand do not tell growth');
    const list = (await hand.get('/api/v1/lists/photograph-measures?limit=3')).json() as { rows: unknown[] };
    expect(list.rows).toHaveLength(3);
  });

  test('cannot be corrected in a photograph that is taken back, nor by who only looks', async () => {
    const row = await rowOf(lots[0]?.id ?? '', 0);
    const reader = await bench.as('reader', 'Only looks');
    expect((await reader.post(`/rack-photograph-lots/${row.id}/refusal`, { reason: 'no' })).status).toBe(403);
    await hand.post(`/rack-photographs/${row.photographId}/taking-back`, { reason: 'wrong rack' });
    const answer = await hand.post(`/rack-photograph-lots/${row.id}/refusal`, { reason: 'late' });
    expect(answer.status).toBe(409);
    expect(answer.body).toContain('This photograph is taken back');
  });
});
