import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Met on a day's trial: the kit that an alert named was put away; the alert was gone, the three tests undone, the room
// without a kit for alkalinity.

let bench: Bench;
let hall: Hall;
let manager: Visitor;
let methodId = '';
let oldKit = '';
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  manager = await bench.as('manager', 'Ravi Sandomil');
  const method = await bench.service.db.method.findFirstOrThrow({
    where: { quantityCode: 'alkalinity', name: 'drop titration' },
  });
  methodId = method.id;
  bench.at('2026-11-20T08:00:00Z');
  oldKit = await open('Alkalinity 4', { expiresOn: '2026-11-10', openedAt: '2026-06-01T08:00' });
  await read('8.1', oldKit);
});
afterAll(() => bench.close());

async function open(label: string, more: Record<string, string> = {}): Promise<string> {
  const opened = await manager.post('/water/kits', { methodId, label, lotNumber: '', uses: '', ...more });
  expect(opened.status).toBe(303);
  return (await bench.service.db.kit.findFirstOrThrow({ where: { label } })).id;
}
const read = async (text: string, kitId: string) => {
  const readings = [{ quantityCode: 'alkalinity', text, unit: 'dKH', methodId, kitId }];
  expect((await manager.send('/api/readings', { systemId: hall.systemId, readings })).status).toBe(201);
};
async function evaluate(at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, [hall.systemId], new Date(at));
  return openAlerts(bench.service.pool, { systemId: hall.systemId });
}

test('put away without another: the alert stays, and the system says that it has no kit', async () => {
  const before = await evaluate('2026-11-20T09:00:00Z');
  expect(before.filter(({ rule }) => rule === 'kit-unfit')).toMatchObject([{ subjectId: oldKit }]);

  bench.at('2026-11-20T10:00:00Z');
  expect((await manager.post(`/water/kits/${oldKit}/retirement`, {})).status).toBe(303);
  const open = await evaluate('2026-11-20T10:01:00Z');
  const missing = open.find(({ rule }) => rule === 'kit-missing');
  expect(missing?.title).toContain('no alkalinity kit in use');
  expect(missing?.finding.firstStep).toContain('three times each');
  const stays = open.find(({ rule }) => rule === 'kit-unfit');
  expect(stays).toMatchObject({ causeId: missing?.id });
  expect(stays?.finding.answer).toMatchObject({
    what: 'kit Alkalinity 4 put away',
    by: 'Ravi Sandomil',
    confirm: '3 tests beside another kit, or of a standard',
  });
  expect((await manager.get('/watch')).body).toContain('no alkalinity kit in use');
});

test('another is opened: "not checked yet", with the tests to do, until all three are done', async () => {
  bench.at('2026-11-20T11:00:00Z');
  const kit = await open('Alkalinity 5');
  const open1 = await evaluate('2026-11-20T11:01:00Z');
  expect(open1.map(({ rule }) => rule)).not.toContain('kit-missing');
  const unchecked = () => open1.find(({ rule }) => rule === 'kit-unfit');
  expect(unchecked()?.title).toContain('Alkalinity 5: the new kit is not checked yet');

  for (const [minute, value] of [
    ['10', '8.0'],
    ['15', '8.1'],
  ]) {
    bench.at(`2026-11-20T11:${minute}:00Z`);
    const pair = { oldKitId: oldKit, old: '8.1', fresh: value, unit: 'dKH', note: '' };
    const done = await manager.post(`/water/kits/${kit}/pairs`, pair);
    expect(done.status).toBe(303);
  }
  const two = await evaluate('2026-11-20T11:20:00Z');
  expect(two.find(({ rule }) => rule === 'kit-unfit')?.finding.numbers).toContain('2 of 3 tests done');

  bench.at('2026-11-20T11:25:00Z');
  const check = { standard: '8.4', value: '8.4', unit: 'dKH', note: '' };
  expect((await manager.post(`/water/kits/${kit}/checks`, check)).status).toBe(303);
  const done = await evaluate('2026-11-20T11:30:00Z');
  expect(done.filter(({ rule }) => rule.startsWith('kit-'))).toEqual([]);
  const cleared = await bench.service.db.alert.findFirstOrThrow({ where: { rule: 'kit-unfit' } });
  expect(cleared.clearedReason).toBe(
    'Alkalinity 4 was put away; Alkalinity 5 took its place and was tested 3 times beside another kit or of a standard',
  );
  const missing = await bench.service.db.alert.findFirstOrThrow({ where: { rule: 'kit-missing' } });
  expect(missing.clearedReason).toBe('Alkalinity 5 was opened');
});
