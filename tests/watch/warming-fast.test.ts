import { describe, expect, test } from 'vitest';
import { causesOf } from '../../src/alerts/causes.rules.ts';
import type { ProbeVote, SystemFacts } from '../../src/watch/facts/types.ts';
import { outOfBand } from '../../src/watch/rules/bands/out-of-band.ts';
import { warmingFast } from '../../src/watch/rules/chemistry/warming-fast.ts';
import { blankSystem, dayZero, find, reading } from './facts.ts';

// A heater that sticks on takes water from 25.4 to 27.9 °C in six hours and holds it there (made up after a keeper's report); the
// band that a system starts with allows up to 28.3 °C.

const band = { bandLow: 24.4, bandHigh: 28.3, limitHigh: null, source: 'starting band', makeUp: null };

/** What a probe shows each half hour from day 0 on. */
const shown = (until: number, at: (day: number) => number): SystemFacts =>
  sent(
    Array.from({ length: Math.round(until * 48) + 1 }, (_, i) => i / 48),
    at,
  );

/** What a probe sent at these days. */
function sent(days: readonly number[], at: (day: number) => number): SystemFacts {
  const samples = days.map((one) => ({ day: dayZero + one, value: Math.round(10 * at(one)) / 10 }));
  const trace = {
    ...{ code: 'temperature', methodId: 'probe', kitId: 'kit', label: 'Probe', selfReporting: true },
    ...{ u: 0.1, everyMinutes: 30, samples },
  };
  const votes = [{ trace, doubt: null }] as unknown as ProbeVote[];
  return blankSystem({ kept: new Map([['temperature', band]]) as SystemFacts['kept'], probeVotes: votes });
}

const day = (at: number) => 25.4 + 0.2 * Math.sin(2 * Math.PI * at);
/** On from day 8: 2.5 degrees in six hours, then steady. */
const stuck = (by: number) => (at: number) => day(at) + by * Math.min(1, Math.max(0, (at - 8) * 4));

const told = (facts: SystemFacts, at: number) => find(warmingFast, facts, at)[0];

describe('water that became warmer than in all its week', () => {
  test('is told while it rises, though its band allows it, and the heater is unplugged before anything is measured', () => {
    const rising = told(shown(8 + 4 / 24, stuck(2.5)), 8 + 4 / 24);
    expect(rising?.severity).toBe('today');
    expect(rising?.firstStep).toMatch(
      /^Switch off before a hand goes in.*Unplug a heater that is on.*Read a second thermometer/,
    );
  });

  test('is act now from two degrees on, and stays told while it stands there for two days', () => {
    for (const hours of [7, 12, 24, 48])
      expect(told(shown(8 + hours / 24, stuck(2.5)), 8 + hours / 24)?.severity, `${hours} h`).toBe('now');
    expect(told(shown(8.5, stuck(2.5)), 8.5)?.numbers).toMatch(/high of the week 25\.\d °C/);
  });

  test('is not told of a warm afternoon, of a slow summer, of a week that was warm all along or of a probe that is silent', () => {
    expect(told(shown(8.5, stuck(0.7)), 8.5)).toBeUndefined();
    expect(
      told(
        shown(9.9, (at) => day(at) + 0.15 * at),
        9.9,
      ),
    ).toBeUndefined();
    expect(
      told(
        shown(9.5, (at) => day(at) + 2.5),
        9.5,
      ),
    ).toBeUndefined();
    expect(told(shown(8.3, stuck(2.5)), 8.7)).toBeUndefined();
  });

  test('is not told of a probe that reports each minute and hangs in warm air for a quarter of an hour, and is told within the hour of a heater', () => {
    const lifted = (at: number) => (at > 8.49 && at < 8.503 ? 28 : day(at));
    // The newest value of each half hour is kept: the last of one and the first of the next are a minute apart.
    const minutely = (at: (day: number) => number, until: number) => {
      const halves = Array.from({ length: Math.ceil(until * 48) }, (_, i) => (i + 1) / 48 - 1 / 1440);
      return sent([...halves.filter((one) => one < until), until], at);
    };
    expect(told(minutely(lifted, 8.5), 8.5)).toBeUndefined();
    // A degree above the week's high after two hours and a half or so; from then on it holds.
    expect(told(minutely(stuck(2.5), 8 + 4 / 24), 8 + 4 / 24)?.severity).toBe('today');
  });

  test('one odd value says nothing, two hand tests do', () => {
    const tests = (...last: [number, number][]) => {
      const usual = [0, 1, 2, 3, 4, 5, 6].map((at): [number, number] => [at, 25.4]);
      const readings = [...usual, ...last].map(([at, value]) => reading(at, value, 0.1));
      return blankSystem({ readings: new Map([['temperature', readings]]) });
    };
    expect(told(tests([7, 25.4], [7.2, 27.6]), 7.25)).toBeUndefined();
    expect(told(tests([7, 27.5], [7.2, 27.9]), 7.25)?.severity).toBe('now');
  });

  test('by hand, a warm hour read by another thermometer says nothing, since a few tests a day seldom meet the high of a day', () => {
    // Mornings at 25.0 to 25.2, afternoons up to 25.8; then an afternoon half a degree above what was seen.
    const usual = [0, 1, 2, 3, 4, 5, 6].flatMap((at): [number, number][] => [
      [at + 0.33, 25 + 0.1 * (at % 3)],
      [at + 0.63, at % 3 === 0 ? 25.8 : 25.2],
    ]);
    const on = (...last: [number, number][]) =>
      blankSystem({
        readings: new Map([
          ['temperature', [...usual, ...last].map(([at, value]) => reading(at, value, 0.2))],
        ]),
      });
    expect(told(on([7.63, 26.4], [7.64, 26.3]), 7.65)).toBeUndefined();
    expect(told(on([7.63, 27.2], [7.64, 27.1]), 7.65)?.severity).toBe('today');
    // It stays told on the next day.
    expect(told(on([7.33, 27.4], [7.63, 27.9], [8.33, 27.9], [8.34, 28]), 8.35)?.severity).toBe('now');
  });

  test('is one matter with a temperature that rises fast, which gathers it', () => {
    const at = 8 + 4 / 24;
    const heated = (day0: number) => day(day0) + 0.6 * Math.max(0, 24 * (day0 - 8));
    const facts = shown(at, heated);
    const both = [...find(outOfBand, facts, at), ...find(warmingFast, facts, at)];
    expect(both.map(({ title }) => title)).toEqual([
      'Long run: temperature rises fast',
      'Long run: much warmer than all week',
    ]);
    const linked = both.map((key) => ({
      id: key.rule,
      key,
      causes: key.causes,
      causeId: null,
      quiet: false,
    }));
    expect(causesOf(linked).get('warming-fast')).toBe('out-of-band');
    expect(causesOf(linked).get('out-of-band')).toBeNull();
  });
});
