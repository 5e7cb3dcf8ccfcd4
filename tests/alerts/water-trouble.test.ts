import { afterAll, beforeAll, expect, test } from 'vitest';
import { isWaterTrouble, waterTroubles } from '../../src/alerts/water-trouble.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// The database and the composer of advice know the same alerts as trouble of a whole water.

let bench: Bench;
let systemId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  systemId = await makeSystem(bench);
});
afterAll(() => bench.close());

const cases = ['now', 'today', 'watch'].flatMap((severity) =>
  ['out-of-band', 'warming-fast', 'pest-in-water', 'look-overdue', 'equipment-fault'].flatMap((rule) =>
    ['system', 'lot'].flatMap((type) =>
      [false, true].flatMap((putOff) =>
        [false, true].map((unchosenBand) => ({ severity, rule, type, putOff, unchosenBand })),
      ),
    ),
  ),
) as {
  severity: 'now' | 'today' | 'watch';
  rule: string;
  type: 'system' | 'lot';
  putOff: boolean;
  unchosenBand: boolean;
}[];

test('the view in the database and the rule agree on every kind of alert', async () => {
  for (const [i, { severity, rule, type, putOff, unchosenBand }] of cases.entries())
    await bench.service.db.alert.create({
      data: {
        ...{ rule, facet: `${i}`, subjectType: type, subjectId: systemId, systemId, severity },
        ...{
          title: `case ${i}`,
          finding: { unchosenBand },
          worst: 1,
          openedAt: benchNow,
          evaluatedAt: benchNow,
        },
        ...(putOff
          ? { putOffUntil: new Date('2026-12-24T08:00:00Z'), putOffReason: 'seen to', putOffWorst: 1 }
          : {}),
      },
    });
  const found = await waterTroubles(bench.service.pool, [systemId]);
  const byRule = cases.flatMap(({ severity, rule, type, putOff, unchosenBand }, i) =>
    isWaterTrouble({ severity, rule, subject: { type, id: systemId }, unchosenBand }, putOff)
      ? [`case ${i}`]
      : [],
  );
  expect(found.map(({ title }) => title).sort()).toEqual(byRule.sort());
  expect(byRule.length).toBeGreaterThan(5);
});

test('an alert that has cleared is no trouble any more', async () => {
  await bench.service.db.alert.updateMany({ data: { clearedAt: benchNow } });
  expect(await waterTroubles(bench.service.pool, [systemId])).toEqual([]);
});
