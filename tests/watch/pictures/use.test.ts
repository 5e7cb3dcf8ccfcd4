import { expect, test } from 'vitest';
import { useChart } from '../../../src/watch/pictures/use.ts';
import { demandChanged } from '../../../src/watch/rules/demand/demand-changed.ts';
import { kitJudgements } from '../../../src/watch/rules/levels/kit-bias.ts';
import { demandRecord } from '../../../src/water/demand/demand-record.rules.ts';
import { demandShift } from '../../../src/water/demand/shift.rules.ts';
import type { Quantity } from '../../../src/water/quantities/quantities.ts';
import { knownOn, useWorld } from '../demand-worlds.ts';
import { dayZero, find } from '../facts.ts';

// The alert on use draws what is used, as its own figures say it: the rule's finding is the check.

test('the last dot is the use that the alert says, and the line what it is compared with', () => {
  const facts = knownOn(useWorld({ seed: 5, days: 200, onset: 150, factor: 0.45 }), 170);
  const [finding] = find(demandChanged, facts, 170);
  const shift = demandShift(demandRecord(facts, 'alkalinity', kitJudgements(facts)), dayZero + 170);
  const quantity = facts.quantities.get('alkalinity') as unknown as Quantity;
  if (shift === null || finding === undefined) throw new Error('the world has no fall of use');
  const period = {
    systemName: 'Long run',
    from: new Date('2026-01-01'),
    to: new Date('2026-12-31'),
    timeZone: 'UTC',
  };
  const { points, limit, label } = useChart(shift, quantity, period);
  expect(points).toHaveLength(shift.past.length + 1);
  expect(points.at(-1)?.value.toFixed(1)).toBe(Number.parseFloat(finding.number.text).toFixed(1));
  expect(limit?.value.toFixed(1)).toBe(Number.parseFloat(finding.limit.text).toFixed(1));
  expect(Math.min(...points.slice(0, -1).map(({ value }) => value))).toBeGreaterThan(
    points.at(-1)?.value ?? 0,
  );
  expect(points.every(({ error }) => error > 0)).toBe(true);
  expect(label).toMatch(
    /^Alkalinity used a day in Long run: 0\.\d+ to 0\.\d+ dKH a day in \d+ windows of \d+ days, 0\.\d+ in the last; (usually|expected) 0\.\d+\.$/,
  );
});
