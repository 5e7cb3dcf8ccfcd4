import { expect, test } from 'vitest';
import type { KitFact, ProbeFact } from '../../src/watch/facts/types.ts';
import { probeFaulty } from '../../src/watch/rules/instruments/probe-faulty.ts';
import { blankSystem, dayZero, find, madeId, onDay } from '../watch/facts.ts';

// Reported in an electronics forum: a home-made pH sensor, about a second apart, in a running tank; steady in buffer.
const reported = [6.2, 8.6, 14.4, 7.3, 7.3, 3.4, 8.6, 16.4, 6.7, 5.4, 2.1, 7.7, 8.1, 9.9];
const second = 1 / 86_400;

/** The probe as it reports; `kept`: what of it was stored, the rest refused as impossible. */
function probe(kept: readonly number[], rejected: number): ProbeFact {
  const samples = kept.map((value, i) => ({ day: dayZero + 1 + (i - kept.length) * second, value }));
  return {
    kitId: madeId(),
    label: 'pH sensor',
    quantityCode: 'ph',
    everyMinutes: 1 / 60,
    u: 0.05,
    lastDay: dayZero + 1 - second,
    taken: kept.length,
    rejected,
    samples,
  };
}
const inBuffer = (kitId: string) =>
  ({
    id: kitId,
    // Steady in buffer, as the report says; the figures are assumed.
    checks: [7.01, 7, 6.99, 7.01].map((value) => ({
      id: madeId(),
      day: dayZero,
      at: onDay(0).toISOString(),
      standard: 7,
      value,
      u: 0.05,
    })),
  }) as unknown as KitFact;

test('a pH sensor that is steady in buffer and wild in the tank is an electrical fault, never a mean of 8.0', () => {
  const possible = reported.filter((value) => value <= 14);
  for (const one of [probe(reported, 0), probe(possible, reported.length - possible.length)]) {
    const [found] = find(probeFaulty, blankSystem({ probes: [one], kits: [inBuffer(one.kitId)] }), 1);
    expect(found).toMatchObject({
      status: 'fires',
      severity: 'today',
      subject: { type: 'kit', id: one.kitId },
    });
    const said = [found?.title, ...(found?.figures ?? []).map(({ text }) => text)].join('; ');
    expect(said).toContain('14 % of its values cannot be');
    expect(said).toContain('2 of 14 values');
    expect(said).toContain('from one value to the next in the tank');
    expect(found?.firstStep).toContain('Do not use its values until then');
    // The mean of the report's values, which the poster took for a reading.
    expect(`${found?.title} ${found?.numbers} ${found?.why}`).not.toMatch(/\b(8\.0|7\.98)\b/);
  }
});

test('without a check in buffer it says how to tell the fault from the water', () => {
  const quiet = [...reported, ...reported].map((value) => Math.min(value, 13));
  const [found] = find(probeFaulty, blankSystem({ probes: [probe(quiet, 0)] }), 1);
  expect(found?.title).toContain('its values jump about');
  expect(found?.firstStep).toContain('steady there, it is an electrical fault');
});
