import { afterAll, beforeAll, expect, test } from 'vitest';
import { explainedBy, openAlerts } from '../../src/alerts/alerts.ts';
import type { ConditionState } from '../../src/generated/prisma/enums.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Ground, layGround, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, startBench } from '../support/service.ts';

let bench: Bench;
beforeAll(async () => {
  bench = await startBench({ watching: false });
});
afterAll(() => bench.close());

/** A lot of a kind by its name in the care library, standing in a slot since a day. */
async function stand(ground: Ground, kindName: string, slot: string, since: string): Promise<string> {
  const { db } = bench.service;
  const kind = await db.kind.findFirstOrThrow({ where: { name: kindName } });
  const id = await lot(bench, ground.siteId);
  await db.lot.update({ where: { id }, data: { kindId: kind.id } });
  await place(bench, id, [ground.slots[slot]], since);
  return id;
}

const look = (lotId: string, at: string, state: ConditionState, grade: 1 | 2 | 3 | null = null) =>
  bench.change((work) => noteCondition(work, { lotId, at: new Date(at), state, grade, note: '' }));

async function openOn(ground: Ground, at: string) {
  bench.at(at);
  await evaluateSystems(bench.service, [ground.systemId], new Date(at));
  return openAlerts(bench.service.pool, { systemId: ground.systemId });
}

const LAMPS = 'too-much-light';

// Light-acclimation articles: lamps replaced at once burn what stands beneath; the run of 110, then 165 the same day and
// paling on the fifth is assumed.
test('new lamps on old corals: told the same day with the step that is safe, and the paling that follows is laid to them', async () => {
  const ground = await layGround(bench);
  await survey(bench, ground, '2026-06-01T10:00:00Z', 60, 110);
  await turn(bench, ground.lampId, '2026-05-01T00:00:00Z', 60);
  const stood = ['A1', 'A2', 'A3'].map((slot) =>
    stand(ground, 'Platygyra daedalea', slot, '2026-06-01T10:00Z'),
  );
  const lots = await Promise.all(stood);
  expect(await openOn(ground, '2026-11-20T08:00:00Z')).toEqual([]);

  await turn(bench, ground.lampId, '2026-11-20T09:00:00Z', 90);
  const sameDay = await openOn(ground, '2026-11-20T12:00:00Z');
  const told = sameDay.find(({ subjectType }) => subjectType === 'lamp');
  expect(told).toMatchObject({ rule: LAMPS, severity: 'today' });
  expect(told?.finding.numbers).toContain('60 % to 90 %');
  // 70 % is 128 of 110: 1.17 times what they are used to.
  expect(told?.finding.firstStep).toContain(
    'down to 70 % today, then up by small steps, each held for a week',
  );
  expect(told?.finding.firstStep).toContain('Measure the light');
  const beneath = await explainedBy(bench.service.pool, told?.id ?? '');
  expect(beneath.map(({ subjectId }) => subjectId).sort()).toEqual([...lots].sort());

  await survey(bench, ground, '2026-11-20T15:00:00Z', 90, 165);
  await Promise.all(lots.map((id) => look(id, '2026-11-25T08:00:00Z', 'paling', 2)));
  const fifthDay = await openOn(ground, '2026-11-25T09:00:00Z');
  expect(fifthDay.find(({ id }) => id === told?.id)?.finding.numbers).toContain('3 lots show it');
  const paling = fifthDay.filter(({ rule }) => rule === 'condition-noted');
  expect(paling.map(({ causeId }) => causeId)).toEqual([told?.id, told?.id, told?.id]);
});

// Two keepers' logs: sand over every coral near the jet; a toppled bubble coral lost nine tenths of its flesh, and lived.
test('a wave pump falls: silt is one matter of the rack, what came loose is urgent, and who lost nearly all stays in the stock', async () => {
  const ground = await layGround(bench);
  await bench.service.db.slot.updateMany({ where: { rackId: ground.rackId }, data: { flow: 'low' } });
  const stood = ['A1', 'A2', 'A3', 'B2'].map((slot) =>
    stand(ground, 'Platygyra daedalea', slot, '2026-06-01T10:00Z'),
  );
  const [toppled = '', ...silted] = (await Promise.all(stood)).reverse();
  await bench.service.db.slot.update({ where: { id: ground.slots.B2 as string }, data: { flow: 'high' } });
  for (const id of silted) await look(id, '2026-11-24T07:00:00Z', 'silt', 2);
  await look(toppled, '2026-11-24T07:05:00Z', 'loose');
  const found = await openOn(ground, '2026-11-24T08:00:00Z');
  const silt = found.find(({ rule }) => rule === 'silt-risk');
  expect(silt).toMatchObject({ subjectType: 'rack', severity: 'today' });
  expect(silt?.finding.firstStep).toContain('Blow them clean today');
  expect(await explainedBy(bench.service.pool, silt?.id ?? '')).toHaveLength(3);
  expect(found.find(({ rule }) => rule === 'loose-in-flow')).toMatchObject({
    subjectId: toppled,
    severity: 'now',
  });

  await look(toppled, '2026-11-24T18:00:00Z', 'receding', 3);
  const evening = await openOn(ground, '2026-11-24T18:05:00Z');
  const receding = evening.find(({ rule, subjectId }) => rule === 'condition-noted' && subjectId === toppled);
  expect(receding?.severity).toBe('now');
  expect(await bench.service.db.lot.findUniqueOrThrow({ where: { id: toppled } })).toMatchObject({
    pieces: 1,
  });
});

// Aggression article: a crystal coral showed no sweepers for three months; three days after a hammer coral moved in it
// had them, always towards it.
test('sweepers in three days: months of peace prove nothing, and both are looked at on the third and the fourteenth night though nobody measured the gap', async () => {
  const ground = await layGround(bench);
  await survey(bench, ground, '2026-11-01T10:00:00Z', null, 90);
  const crystal = await stand(ground, 'Galaxea fascicularis', 'A1', '2026-08-20T10:00:00Z');
  const neighbours = async (at: string) =>
    (await openOn(ground, at)).filter(({ rule }) => rule === 'neighbours-in-reach');
  expect(await neighbours('2026-11-20T08:00:00Z')).toEqual([]);

  const hammer = await stand(ground, 'Fimbriaphyllia ancora', 'A2', '2026-11-20T10:00:00Z');
  const steps: [at: string, severity: string, step: string][] = [
    ['2026-11-23T12:00:00Z', 'today', 'They have been side by side for 3 days'],
    ['2026-11-28T12:00:00Z', 'watch', 'Look at both by night on 4 Dec 2026'],
    ['2026-12-04T12:00:00Z', 'today', 'They have been side by side for 14 days'],
  ];
  for (const [at, severity, step] of steps) {
    const [alert] = await neighbours(at);
    expect(alert, at).toMatchObject({ subjectId: hammer, severity });
    expect(alert?.finding.firstStep, at).toContain(step);
  }
  await look(crystal, '2026-12-05T07:00:00Z', 'receding', 1);
  expect((await neighbours('2026-12-05T08:00:00Z'))[0]?.severity).toBe('now');
});
