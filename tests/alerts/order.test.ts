import { afterAll, beforeAll, expect, test } from 'vitest';
import { openRoots } from '../../src/alerts/alerts.ts';
import { reachOf } from '../../src/alerts/order.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';
import { newSite } from '../support/site.ts';

let bench: Bench;

beforeAll(async () => {
  bench = await startBench({ watching: false });
});
afterAll(() => bench.close());

test('of what to act on now, trouble that reaches all stock of a water stands above that of one lot, whatever the scores', async () => {
  const { db, pool } = bench.service;
  const site = await newSite(db);
  const { id: systemId } = await db.system.create({
    data: { siteId: site.id, name: 'Quiet water', volumeL: 1200 },
  });
  const alerts = [
    { rule: 'condition-noted', subjectType: 'lot', severity: 'now', score: 9 },
    { rule: 'lamp-brightened', subjectType: 'lamp', severity: 'now', score: 7 },
    { rule: 'affected-share', subjectType: 'system', severity: 'now', score: 6 },
    { rule: 'warming-fast', subjectType: 'system', severity: 'now', score: 1 },
    { rule: 'too-much-light', subjectType: 'lot', severity: 'today', score: 8 },
    { rule: 'nitrate-creep', subjectType: 'system', severity: 'today', score: 2 },
  ] as const;
  const made = [];
  for (const { score, ...alert } of alerts)
    made.push(
      await db.alert.create({
        data: {
          ...alert,
          ...{
            subjectId: crypto.randomUUID(),
            systemId,
            title: alert.rule,
            finding: { score },
            worst: score,
          },
          ...{ openedAt: benchNow, evaluatedAt: benchNow },
        },
      }),
    );
  const rules = new Map(made.map(({ id, rule }) => [id, rule]));
  const order = (await openRoots(pool, site.id)).map(({ id }) => rules.get(id));
  expect(order[0]).toBe('warming-fast');
  expect(order.slice(1, 4)).toEqual(['lamp-brightened', 'affected-share', 'condition-noted']);
  // What can wait stays in the order of how far it is beyond its limit.
  expect(order.slice(4)).toEqual(['too-much-light', 'nitrate-creep']);
  for (const { rule, subjectType, severity } of alerts)
    expect(reachOf({ rule, severity, subject: { type: subjectType, id: '' } })).toBe(
      severity !== 'now' ? 0 : rule === 'warming-fast' ? 0 : subjectType === 'lot' ? 2 : 1,
    );
});
