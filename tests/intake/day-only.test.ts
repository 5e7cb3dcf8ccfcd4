import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

let bench: Bench;
let manager: Visitor;
let systemId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench, 'Main');
  manager = await bench.as('manager', 'Ines Varga');
});
afterAll(() => bench.close());

test('a dose of which a file says the day alone has no hour: nothing is said to be so long after it', async () => {
  const form = new FormData();
  form.set('kind', 'doses');
  form.set(
    'pasted',
    'System,Date,Additive,Amount,Unit,Raises,Rise\nMain,2026-11-23,mix,50,mL,alkalinity,0.25\n',
  );
  const at = (await manager.send('/water/log-files', form, { accept: 'text/html' })).location ?? '';
  // Said as it stands in the file: 0.25, not rounded to 0.3.
  expect((await manager.get(at)).body).toContain('raises alkalinity by 0.25 dKH');
  expect((await manager.post(`${at}/acceptance`, {})).status).toBe(303);
  expect(await bench.service.db.dose.count({ where: { systemId } })).toBe(1);

  const page = async () => (await manager.get(`/water/systems/${systemId}/readings/new`)).body;
  expect(await page()).not.toContain('after a dose');
  const hours = async () => {
    const series = `/api/systems/${systemId}/series?quantity=alkalinity&from=2026-11-20T00:00:00Z`;
    return (await manager.get(series, { accept: 'application/json' })).body.match(/"hoursSinceDose":[^,}]+/g);
  };
  const reading = {
    systemId,
    at: '2026-11-24T07:00:00Z',
    readings: [{ quantityCode: 'alkalinity', text: '8.0' }],
  };
  expect((await manager.send('/api/readings', reading)).status).toBe(201);
  expect(await hours()).toEqual(['"hoursSinceDose":null']);

  const dose = { substance: 'mix', amount: '50', unit: 'mL', quantityCode: 'alkalinity', rise: '0.25' };
  const typed = { ...dose, at: '2026-11-24T05:00', reason: 'usual' };
  expect((await manager.post(`/water/systems/${systemId}/doses`, typed)).status).toBe(303);
  expect(await page()).toContain('3 h after a dose');
  expect(await hours()).toEqual(['"hoursSinceDose":2']);
});
