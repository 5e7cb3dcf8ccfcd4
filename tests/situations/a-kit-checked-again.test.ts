import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// A kit past its date is checked four times and stays in use; one that nobody ever checked is checked in duplicate. Made up.

let bench: Bench;
let hall: Hall;
let manager: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  manager = await bench.as('manager', 'Ravi Sandomil');
});
afterAll(() => bench.close());

async function answerAt(at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, [hall.systemId], new Date(at));
  const open = await openAlerts(bench.service.pool, { systemId: hall.systemId });
  return open.find(({ rule }) => rule === 'kit-unfit')?.finding.answer ?? null;
}

test('what was done is never confirmed by something from before it', async () => {
  const method = await bench.service.db.method.findFirstOrThrow({
    where: { quantityCode: 'alkalinity', name: 'drop titration' },
  });
  bench.at('2026-11-20T08:00:00Z');
  const dates = { openedAt: '2026-06-01T08:00', expiresOn: '2026-11-10' };
  await manager.post('/water/kits', {
    methodId: method.id,
    label: 'Alkalinity 4',
    lotNumber: '',
    uses: '',
    ...dates,
  });
  const { id: kitId } = await bench.service.db.kit.findFirstOrThrow({ where: { label: 'Alkalinity 4' } });
  const readings = [{ quantityCode: 'alkalinity', text: '8.1', unit: 'dKH', methodId: method.id, kitId }];
  await manager.send('/api/readings', { systemId: hall.systemId, readings });
  expect(await answerAt('2026-11-20T08:30:00Z')).toBeNull();
  for (const hour of ['09', '10', '11', '12']) {
    bench.at(`2026-11-20T${hour}:00:00Z`);
    const check = { standard: '8.4', value: '8.4', unit: 'dKH', note: '' };
    expect((await manager.post(`/water/kits/${kitId}/checks`, check)).status).toBe(303);
    const answer = await answerAt(`2026-11-20T${hour}:30:00Z`);
    if (hour < '11') expect(answer?.confirmedAt).toBeNull();
    else expect(Date.parse(answer?.confirmedAt ?? '')).toBeGreaterThanOrEqual(Date.parse(answer?.at ?? ''));
  }
});

test('two tests of a standard, as they were asked for, are enough for a kit that was never checked', async () => {
  const { systemId } = hall;
  const method = await bench.service.db.method.findFirstOrThrow({
    where: { quantityCode: 'calcium', laboratory: '' },
  });
  bench.at('2026-11-21T08:00:00Z');
  const dates = { openedAt: '2026-06-01T08:00', expiresOn: '' };
  const kit = { methodId: method.id, label: 'Calcium 2', lotNumber: '', uses: '', ...dates };
  expect((await manager.post('/water/kits', kit)).status).toBe(303);
  const { id: kitId } = await bench.service.db.kit.findFirstOrThrow({ where: { label: 'Calcium 2' } });
  const readings = [{ quantityCode: 'calcium', text: '420', unit: 'mg/L', methodId: method.id, kitId }];
  expect((await manager.send('/api/readings', { systemId, readings })).status).toBe(201);
  const told = async (at: string) => {
    bench.at(at);
    await evaluateSystems(bench.service, [systemId], new Date(at));
    const open = await openAlerts(bench.service.pool, { systemId });
    return open.find(({ rule, subjectId }) => rule === 'kit-unfit' && subjectId === kitId);
  };
  expect((await told('2026-11-21T08:30:00Z'))?.finding.firstStep).toContain(
    'Test a standard of known value twice',
  );
  for (const minute of ['10', '20']) {
    bench.at(`2026-11-21T09:${minute}:00Z`);
    const check = { standard: '420', value: '421', unit: 'mg/L', note: '' };
    expect((await manager.post(`/water/kits/${kitId}/checks`, check)).status).toBe(303);
  }
  expect(await told('2026-11-21T09:30:00Z')).toBeUndefined();
});
