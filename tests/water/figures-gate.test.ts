import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let manager: Visitor;
let systemId: string;
let farms = 0;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  manager = await bench.as('manager', 'Ada');
});
afterAll(() => bench.close());

const source = 'our own choice';
async function typing(fields: Record<string, string>) {
  farms += 1;
  systemId = await makeSystem(bench, `Run ${farms}`);
  return again(fields);
}
const again = (fields: Record<string, string>) =>
  manager.post(`/water/systems/${systemId}/targets`, {
    'alkalinity-low': '7.57',
    'alkalinity-high': '8.97',
    'alkalinity-source': source,
    'nitrate-low': '2',
    'nitrate-high': '15',
    'nitrate-limit': '30',
    'nitrate-makeUp': '0',
    'nitrate-source': source,
    ...fields,
  });
const stored = (quantityCode: string) =>
  bench.service.db.systemQuantity.findUnique({
    where: { systemId_quantityCode: { systemId, quantityCode } },
  });

describe('a band', () => {
  test('of salinity typed as specific gravity is asked about with what each base makes of it', async () => {
    const salt = { 'salinity-low': '1.023', 'salinity-high': '1.026', 'salinity-source': source };
    const asked = await typing(salt);
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('looks like a specific gravity, not a salinity');
    // EOS-80: SG 1.0230 at 25/25 °C is S 30.5 (handbook table by the same equation of state).
    expect(asked.body).toContain('30.5 PSU at 25/25');
    expect(asked.body).toContain('value="1.023"');
    expect(asked.body).toContain('name="salinity-sure"');
    expect(await stored('salinity')).toBeNull();
    expect((await again({ ...salt, 'salinity-sure': 'yes' })).status).toBe(303);
    expect((await stored('salinity'))?.bandLow).toBeCloseTo(1.023, 6);
  });

  test.each([
    [
      'an end with swapped digits',
      { 'salinity-low': '1.206', 'salinity-high': '1.207' },
      'By none of them is it seawater',
    ],
    ['alkalinity in mg/L', { 'alkalinity-low': '125', 'alkalinity-high': '160' }, 'Did you mean 125 mg/L'],
    ['alkalinity in meq/L', { 'alkalinity-low': '2.7', 'alkalinity-high': '3.2' }, 'Did you mean'],
    [
      'calcium without its last digit',
      { 'calcium-low': '40', 'calcium-high': '45' },
      'Did you mean 400 mg/L',
    ],
    [
      'temperature in Fahrenheit',
      { 'temperature-low': '76', 'temperature-high': '79' },
      'Did you mean 76 °F',
    ],
    [
      'ends of which one is a gravity',
      { 'salinity-low': '34', 'salinity-high': '1.206' },
      '34 is more than 1.206',
    ],
    ['ends the wrong way round', { 'alkalinity-low': '9', 'alkalinity-high': '7.5' }, 'wrong way round'],
    [
      'ends that no test tells apart',
      { 'alkalinity-low': '8', 'alkalinity-high': '8' },
      'narrower than a test can tell',
    ],
    [
      'ends so wide that nothing is watched',
      { 'alkalinity-low': '5.5', 'alkalinity-high': '12.5' },
      'so wide',
    ],
    [
      'nitrate as nitrogen, by what stood there',
      { 'nitrate-low': '0.45', 'nitrate-high': '3.4' },
      'Which of the two is meant?',
    ],
  ])('with %s is asked about', async (_, fields, words) => {
    const codes = new Set(Object.keys(fields).map((name) => name.split('-')[0]));
    const sources = Object.fromEntries([...codes].map((code) => [`${code}-source`, source]));
    const asked = await typing({ ...fields, ...sources } as Record<string, string>);
    expect(asked.status).toBe(422);
    expect(asked.body).toContain(words);
  });

  test('ten times the level that was read is asked about', async () => {
    await typing({});
    await read(bench, systemId, '2026-11-24T05:00Z', 'phosphate', '0.05');
    const fields = { 'phosphate-low': '0.5', 'phosphate-high': '0.6', 'phosphate-source': source };
    const asked = await again(fields);
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('10 times');
    expect((await again({ ...fields, 'phosphate-sure': 'yes' })).status).toBe(303);
  });

  test('as usual is kept without a question, and a figure once taken is not asked about again', async () => {
    const salt = { 'salinity-low': '34', 'salinity-high': '36', 'salinity-source': source };
    expect((await typing(salt)).status).toBe(303);
    const odd = { 'calcium-low': '300', 'calcium-high': '450', 'calcium-source': source };
    expect((await again({ ...salt, ...odd, 'calcium-sure': 'yes' })).status).toBe(303);
    expect((await again({ ...salt, ...odd, 'salinity-high': '35.5' })).status).toBe(303);
  });

  test('as JSON is asked about at the same name, and leaves what was not sent alone', async () => {
    await typing({});
    const { seen } = (await manager.get(`/api/systems/${systemId}/targets`)).json() as { seen: string };
    const body = { 'salinity-low': 1.023, 'salinity-high': 1.026, 'salinity-source': source, seen };
    const asked = await manager.send(`/api/systems/${systemId}/targets`, body);
    expect(asked.status).toBe(422);
    expect(asked.json()).toMatchObject({ errors: [{ field: 'salinity-sure' }] });
    const right = { 'salinity-low': 34, 'salinity-high': 36, 'salinity-source': source, seen };
    expect((await manager.send(`/api/systems/${systemId}/targets`, right)).json()).toEqual({ changed: 1 });
    expect(await stored('nitrate')).not.toBeNull();
  });
});
