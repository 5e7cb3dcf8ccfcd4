import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { convert } from '../../src/science/units.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// A new farm chose no bands, and alkalinity rose from 8 to 11 dKH without a word. What a system starts with is natural
// seawater and good practice: alkalinity where published ranges overlap (articles 7-11 dKH, a test maker 6-9; warm surface
// seawater 6.6 by Geophys. Res. Lett. 33, 2006), calcium 380-450 and magnesium 1,250-1,350 mg/L, salinity 34-36, 24.4-28.3
// degC, pH 7.8-8.5 (chemistry article of the trade): common practice. The other figures of these tests are invented.

let bench: Bench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager');
  await bench.service.db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
});
afterAll(() => bench.close());

async function newSystem(name: string, more: object = {}): Promise<string> {
  bench.at('2026-11-01T08:00:00Z');
  const answer = await manager.post('/farm/systems', { name, volumeL: '1200', ...more });
  expect(answer.status, answer.body).toBe(303);
  return (await bench.service.db.system.findFirstOrThrow({ where: { name } })).id;
}

const kept = async (systemId: string, quantityCode: string) =>
  bench.service.db.systemQuantity.findUnique({
    where: { systemId_quantityCode: { systemId, quantityCode } },
  });

async function enter(systemId: string, day: number, quantityCode: string, text: string, sure = false) {
  const at = `2026-11-${String(day).padStart(2, '0')}T08:00:00Z`;
  bench.at(at);
  return manager.send('/api/readings', {
    systemId,
    at: at.slice(0, 16),
    readings: [{ quantityCode, text, sure }],
  });
}

async function alertsOf(systemId: string, at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, [systemId], new Date(at));
  return openAlerts(bench.service.pool, { systemId });
}

const plain = async (url: string) => (await manager.get(url)).body.replace(/\s+/g, ' ');

test('a new system starts with bands that are said not to be chosen, until one button confirms them', async () => {
  const systemId = await newSystem('Long run');
  const alkalinity = await kept(systemId, 'alkalinity');
  expect(alkalinity?.starting).toBe(true);
  expect(convert('alkalinity', alkalinity?.bandLow ?? 0, 'meq/L', 'dKH')).toBeCloseTo(7, 6);
  expect(convert('alkalinity', alkalinity?.bandHigh ?? 0, 'meq/L', 'dKH')).toBeCloseTo(9, 6);
  for (const [code, low, high] of [
    ['calcium', 380, 450],
    ['magnesium', 1250, 1350],
    ['salinity', 34, 36],
    ['temperature', 24.4, 28.3],
    ['ph', 7.8, 8.5],
  ] as const)
    expect(await kept(systemId, code)).toMatchObject({ bandLow: low, bandHigh: high, starting: true });
  const page = await plain(`/water/systems/${systemId}/targets`);
  expect(page).toContain('8 bands were not chosen by you.');
  expect(page).toContain('starting band, not chosen by you');
  expect(await plain(`/water/systems/${systemId}?quantity=calcium`)).toContain(
    'starting band, from common practice',
  );

  expect((await manager.post(`/water/systems/${systemId}/targets/confirm`, {})).status).toBe(303);
  expect((await kept(systemId, 'alkalinity'))?.starting).toBe(false);
  expect(await plain(`/water/systems/${systemId}/targets`)).not.toContain('not chosen by you');
  const again = await manager.post(`/water/systems/${systemId}/targets/confirm`, {});
  expect(again.status).toBe(409);
});

describe('in a system with starting bands', () => {
  test('alkalinity that rises from 8 to 11 dKH is asked about at entry and told, mildly', async () => {
    const systemId = await newSystem('Rising');
    for (const [day, text] of [
      [2, '8.0'],
      [5, '8.4'],
      [8, '8.8'],
    ] as const)
      expect((await enter(systemId, day, 'alkalinity', text)).status).toBe(201);
    for (const [day, text] of [
      [11, '9.6'],
      [14, '10.3'],
      [17, '11.0'],
      [18, '11.0'],
    ] as const)
      await enter(systemId, day, 'alkalinity', text, true);
    const alert = (await alertsOf(systemId, '2026-11-18T09:00:00Z')).find(
      ({ facet }) => facet === 'alkalinity',
    );
    expect(alert?.title).toBe('Rising: alkalinity is above its starting band');
    expect(['watch', 'today']).toContain(alert?.severity);
    expect(JSON.stringify(alert)).toContain('not chosen by you');
  });

  test('the very first reading outside a starting band is asked about', async () => {
    const systemId = await newSystem('First');
    const answer = await enter(systemId, 3, 'calcium', '340');
    expect(JSON.stringify(answer.json())).toContain(
      'below the starting band of this system, 380 to 450 mg/L',
    );
  });

  test('what stock does not bear is as urgent as ever', async () => {
    const systemId = await newSystem('Cold');
    for (const day of [2, 3]) await enter(systemId, day, 'temperature', '16.5', true);
    const alert = (await alertsOf(systemId, '2026-11-03T09:00:00Z')).find(
      ({ facet }) => facet === 'temperature',
    );
    expect(alert?.severity).toBe('now');
  });
});

describe('the kind of stock', () => {
  const brains = async () => bench.service.db.kind.findUniqueOrThrow({ where: { code: 'brain-corals' } });

  test('chosen with the system narrows the bands it starts with', async () => {
    const systemId = await newSystem('Brains', { stockKindId: (await brains()).id });
    expect(await kept(systemId, 'nitrate')).toMatchObject({ bandLow: 2, bandHigh: 20, starting: true });
  });

  test('said later only proposes: what was confirmed never changes, the rest changes by a button', async () => {
    const systemId = await newSystem('Later');
    await bench.change(async (work) => {
      await work.tx.systemQuantity.updateMany({
        where: { systemId, quantityCode: 'calcium' },
        data: { bandLow: 400, bandHigh: 440, starting: false, source: 'our own choice' },
      });
      work.record('system.changed', { type: 'system', id: systemId }, {});
    });
    const { version } = await bench.service.db.system.findUniqueOrThrow({ where: { id: systemId } });
    const edit = { name: 'Later', volumeL: 1200, version, stockKindId: (await brains()).id };
    expect((await manager.post(`/farm/systems/${systemId}`, edit)).status).toBe(303);
    expect(await kept(systemId, 'nitrate')).toMatchObject({ bandLow: 1 });
    const page = await plain(`/water/systems/${systemId}/targets`);
    expect(page).toContain('Proposed bands');
    expect(page).toMatch(/Nitrate 2\.0 to 20\.0 mg\/L as NO₃<\/strong> instead of 1\.0 to 20\.0/);
    const answer = (await manager.get(`/api/systems/${systemId}/targets`)).json() as { proposed: object[] };
    expect(answer.proposed).toMatchObject([{ quantityCode: 'nitrate', low: 2, high: 20 }]);
    expect((await manager.post(`/water/systems/${systemId}/targets/proposed`, {})).status).toBe(303);
    expect(await kept(systemId, 'nitrate')).toMatchObject({ bandLow: 2, starting: true });
    expect(await kept(systemId, 'calcium')).toMatchObject({ bandLow: 400, starting: false });
  });
});

test('of a level that jumped nobody is asked whether it is meant, also once its repeat says the same', async () => {
  const systemId = await newSystem('Short run');
  for (let day = 1; day <= 10; day += 1) await enter(systemId, day, 'alkalinity', '8.0');
  const jump = (at: string, text: string) =>
    manager.send('/api/readings', {
      systemId,
      at,
      readings: [{ quantityCode: 'alkalinity', text, sure: true }],
    });
  bench.at('2026-11-11T08:30:00Z');
  expect((await jump('2026-11-11T08:00', '11.2')).status).toBe(201);
  expect((await jump('2026-11-11T08:20', '11.1')).status).toBe(201);
  const [alert] = (await alertsOf(systemId, '2026-11-11T08:30:00Z')).filter(
    ({ rule }) => rule === 'out-of-band',
  );
  expect(alert?.title).toContain('Short run: alkalinity');
  expect(JSON.stringify(alert?.finding)).not.toContain('mean to keep it');
});

test('a system of before that has no bands gets proposals and no alert', async () => {
  const site = await bench.service.db.site.findFirstOrThrow();
  const old = await bench.service.db.system.create({ data: { siteId: site.id, name: 'Old', volumeL: 900 } });
  for (const [day, text] of [
    [2, '11.0'],
    [3, '11.0'],
  ] as const)
    await enter(old.id, day, 'alkalinity', text, true);
  expect(await alertsOf(old.id, '2026-11-03T09:00:00Z')).toEqual([]);
  expect(await plain(`/water/systems/${old.id}/targets`)).toContain('Proposed bands');
  expect(await plain('/watch/limits')).toContain('No bands are set for Old');
  const { seen } = (await manager.get(`/api/systems/${old.id}/targets`)).json() as { seen: string };
  expect((await manager.send(`/api/systems/${old.id}/targets/proposed`, { seen })).status).toBe(200);
  expect(await kept(old.id, 'alkalinity')).toMatchObject({ starting: true });
});

test('a starting band typed anew is chosen; one left as it is stays a starting band', async () => {
  const systemId = await newSystem('Typed');
  const { seen } = (await manager.get(`/api/systems/${systemId}/targets`)).json() as { seen: string };
  const sent = { 'calcium-low': 400, 'calcium-high': 440, 'calcium-source': 'our own choice', seen };
  expect((await manager.send(`/api/systems/${systemId}/targets`, sent)).status).toBe(200);
  expect(await kept(systemId, 'calcium')).toMatchObject({ bandLow: 400, starting: false });
  expect(await kept(systemId, 'magnesium')).toMatchObject({ starting: true });
});
