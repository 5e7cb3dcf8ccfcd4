import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from '../water/farm.ts';
import { bring } from './files.ts';

let [from, to] = [] as unknown as [Bench, Bench];
let [giver, taker] = [] as unknown as [Visitor, Visitor];
let systemId: string;

beforeAll(async () => {
  [from, to] = [await startBench({ watching: false }), await startBench({ watching: false })];
  systemId = await makeSystem(from);
  await makeSystem(from, 'North hall');
  await makeSystem(to, 'North hall');
  await makeSystem(to);
  giver = await from.as('manager', 'Runa');
  taker = await to.as('manager', 'Odo');
});
afterAll(async () => {
  await from.close();
  await to.close();
});

const column = (csv: string, name: string) =>
  (parse(csv, { columns: true }) as Record<string, string>[]).map((row) => row[name] ?? '');

async function takeInto(content: string): Promise<string> {
  const { location = '' } = await bring(taker, 'out.csv', content);
  const accepted = await taker.post(`${location}/acceptance`, {});
  expect(accepted.status, (await taker.get(location)).body).toBe(303);
  return location;
}

describe('the readings of a system as a file', () => {
  let csv: string;

  test('hold each number as the page shows it', async () => {
    await read(from, systemId, '2026-10-20T07:30:00Z', 'alkalinity', '8,4');
    await read(from, systemId, '2026-10-21T07:30:00Z', 'alkalinity', '2.97', { unit: 'meq/L', note: '=1+1' });
    await read(from, systemId, '2026-10-22T07:30:00Z', 'nitrate', '<0.5', { note: "'- as found" });
    await read(from, systemId, '2026-10-23T07:30:00Z', 'magnesium', '1350.5');
    csv = (await giver.get(`/water/systems/${systemId}/readings.csv?days=90`)).body;
    for (const code of ['alkalinity', 'nitrate', 'magnesium']) {
      const page = (await giver.get(`/water/systems/${systemId}?quantity=${code}&days=90`)).body;
      const shown = [...page.matchAll(/class="n fig row-figure"><span>(?:&lt; )?([\d.,]+)/g)].map(
        ([, n = '']) => n.replace(',', ''),
      );
      const own = (await giver.get(`/water/systems/${systemId}/readings.csv?quantity=${code}`)).body;
      const written = column(own, 'value').reverse();
      expect(shown.length).toBeGreaterThan(0);
      expect(written.map((value, i) => Number(value).toFixed(shown[i]?.split('.')[1]?.length ?? 0))).toEqual(
        shown,
      );
    }
  });

  test('come into another farm as they were, by name of the system', async () => {
    await takeInto(csv);
    const facts = async ({ service }: Bench) =>
      (
        await service.db.reading.findMany({
          include: { system: true, method: true },
          orderBy: [{ at: 'asc' }],
        })
      ).map((one) => ({
        at: one.at,
        system: one.system.name,
        quantity: one.quantityCode,
        value: one.value.toPrecision(6),
        uncertainty: one.uncertainty.toPrecision(5),
        below: one.belowDetection,
        text: one.enteredText,
        unit: one.enteredUnit,
        factor: one.factor,
        method: one.method?.name,
        note: one.note,
        batch: one.batch,
      }));
    expect(await facts(to)).toEqual(await facts(from));
  });

  test('go out of there as they came, but for when they were entered and by whom', async () => {
    const there = await to.service.db.system.findFirstOrThrow({ where: { name: 'Long run' } });
    const again = (await taker.get(`/water/systems/${there.id}/readings.csv?days=90`)).body;
    for (const name of ['at', 'system', 'quantity', 'value', 'unit', 'entered_text', 'entered_unit', 'note'])
      expect(column(again, name)).toEqual(column(csv, name));
  });

  test('brought a second time, change nothing', async () => {
    const { location = '' } = await bring(taker, 'out.csv', csv);
    const { body } = await taker.get(location);
    expect(body).toContain('0 readings would be taken');
    expect(body).toContain('4 are here already and are left out');
    expect(body).not.toContain('Nothing is taken of the column');
  });
});
