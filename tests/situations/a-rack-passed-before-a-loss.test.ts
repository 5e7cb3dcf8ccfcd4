import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// A rack passed as well says that its lots were well then, though none of them has an entry of its own: what came after
// the pass may be the cause, and may have come after the loss began. The course is made up.

let bench: Bench;
let hall: Hall;
let hand: Visitor;
let roundId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  hand = await bench.as('hand', 'Nor Abell');
  bench.at('2026-11-24T05:30:00Z');
  roundId = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
  bench.at('2026-11-24T08:00:00Z');
  await bench.service.db.systemEvent.createMany({
    data: [
      { systemId: hall.systemId, kind: 'new_additive', at: new Date('2026-11-20T08:00:00Z') },
      { systemId: hall.systemId, kind: 'media_changed', at: new Date('2026-11-24T07:00:00Z') },
    ],
  });
  const receding = { lotId: hall.lots.A1.id, rackId: hall.window, state: 'receding', grade: 2, label: 'A1' };
  await send('condition', '2026-11-24T08:00:00Z', receding);
});
afterAll(() => bench.close());

async function send(kind: string, at: string, more: object) {
  const answer = await hand.send(`/api/rounds/${roundId}/entries`, [{ id: uuidv7(), kind, at, ...more }]);
  expect(answer.status, answer.body).toBe(200);
}

/** What the alert says that changed before, a line each. */
async function changed(at: string): Promise<string[]> {
  bench.at(at);
  await evaluateSystems(bench.service, [hall.systemId], new Date(at));
  const alerts = await openAlerts(bench.service.pool, { systemId: hall.systemId });
  const alert = alerts.find(
    ({ rule, subjectId }) => rule === 'condition-noted' && subjectId === hall.lots.A1.id,
  );
  const figure = alert?.finding.figures.find(({ label }) => label.startsWith('Changed before'));
  return (figure?.text ?? '').split('; ');
}

test('a pass before the first sign says until when the lot was well, also when a tablet brings it late', async () => {
  const before = await changed('2026-11-24T08:05:00Z');
  expect(before.some((line) => line.includes('possible'))).toBe(false);
  await send('rack_well', '2026-11-24T06:00:00Z', { rackId: hall.window });
  const [passed] = await bench.service.db.roundEntry.findMany({ where: { roundId, kind: 'rack_well' } });
  expect(passed?.at).toEqual(new Date('2026-11-24T06:00:00Z'));
  const after = await changed('2026-11-24T08:10:00Z');
  const possible = after.filter((line) => line.includes('(possible: after it was last seen well)'));
  expect(possible).toEqual([expect.stringContaining('24 Nov')]);
  expect(after.length).toBeGreaterThan(possible.length);
});

test('a pass while the lot is unwell does not say that it recovered', async () => {
  await send('rack_well', '2026-11-24T09:00:00Z', { rackId: hall.window });
  bench.at('2026-11-24T09:05:00Z');
  await evaluateSystems(bench.service, [hall.systemId], new Date('2026-11-24T09:05:00Z'));
  const alerts = await openAlerts(bench.service.pool, { systemId: hall.systemId });
  expect(alerts.find(({ subjectId }) => subjectId === hall.lots.A1.id)?.title).toContain('receding');
});
