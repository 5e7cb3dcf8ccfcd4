import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import type { KitFact, ProbeFact } from '../../src/watch/facts/types.ts';
import { deviceSilent } from '../../src/watch/rules/instruments/device-silent.ts';
import { probeFaulty } from '../../src/watch/rules/instruments/probe-faulty.ts';
import { blankSystem, dayZero, find, firing, madeId, onDay, reading } from './facts.ts';

const minute = 1 / 1440;
/** Two days of a healthy pH probe that reports every ten minutes: a daily swing of 0.3 and a little noise. */
function swing(random = seededRandom(7)): ProbeFact['samples'] {
  return Array.from({ length: 288 }, (_, i) => {
    const day = dayZero + 8 + (i + 1) * 10 * minute;
    return {
      day,
      value: Math.round(100 * (8.1 + 0.15 * Math.sin(2 * Math.PI * day) + 0.01 * random.normal())) / 100,
    };
  });
}
const probe = (more: Partial<ProbeFact> = {}): ProbeFact => ({
  kitId: madeId(),
  label: 'pH probe',
  quantityCode: 'ph',
  everyMinutes: 10,
  u: 0.05,
  lastDay: dayZero + 10,
  taken: 288,
  rejected: 0,
  samples: swing(),
  ...more,
});
const on = (day: number, one: ProbeFact, more: Parameters<typeof blankSystem>[0] = {}) =>
  firing(find(probeFaulty, blankSystem({ probes: [one], ...more }), day));
const changed = (change: (value: number, i: number) => number) =>
  swing().map(({ day, value }, i) => ({ day, value: change(value, i) }));

describe('a probe', () => {
  test('that swings with the day and reports is well', () => {
    expect(on(10.001, probe())).toEqual([]);
    for (let seed = 1; seed <= 40; seed++)
      expect(on(10.001, probe({ samples: swing(seededRandom(seed)) }))).toEqual([]);
  });

  test('is silent after five of its intervals, not after two', () => {
    const found = (minutes: number) => on(10 + minutes * minute, probe());
    expect(found(20)).toEqual([]);
    expect(found(51)[0]?.title).toBe('Long run, pH probe: silent for 51 min');
    expect(found(51)[0]?.severity).toBe('watch');
    expect(found(300)[0]?.severity).toBe('today');
  });

  test('that falls silent at one moment with another sends somebody to see that the power is on', () => {
    const two = (apart: number) =>
      firing(
        find(
          probeFaulty,
          blankSystem({
            probes: [probe(), probe({ label: 'Thermometer', lastDay: dayZero + 10 - apart * minute })],
          }),
          10 + 300 * minute,
        ),
      ).map(({ firstStep }) => firstStep);
    const first =
      /^Go there first\. See that the power is on and that water moves\. 2 probes fell silent at one moment/;
    for (const step of two(10)) expect(step).toMatch(first);
    for (const step of two(120)) expect(step).not.toMatch(/^Go there first/);
  });

  test('is stuck when it shows the same for longer than ever before', () => {
    const stuckFor = (hours: number) =>
      probe({ samples: changed((value, i) => (i >= 288 - hours * 6 ? 8.17 : value)) });
    expect(on(10.001, stuckFor(8))).toEqual([]);
    expect(on(10.001, stuckFor(14))[0]?.title).toContain('stuck for 14 h');
    expect(on(10.001, stuckFor(30))[0]?.title).toContain('stuck for 30 h');
  });

  test('that is steady by nature is not stuck', () => {
    const steady = probe({
      quantityCode: 'salinity',
      samples: changed((_, i) => (i % 50 === 0 ? 35.1 : 35)),
    });
    expect(on(10.001, steady)).toEqual([]);
  });

  test('flat through both days is stuck only where its own past moved', () => {
    const flat = probe({ samples: changed(() => 8.1) });
    expect(on(10.001, flat)).toEqual([]);
    const past = Array.from({ length: 20 }, (_, i) =>
      reading(i - 14, 8 + (i % 7) / 50, 0.05, { kitId: flat.kitId }),
    );
    expect(on(10.001, flat, { readings: new Map([['ph', past]]) })).toHaveLength(1);
  });

  test('spikes when values stand out from their neighbours, again and again', () => {
    const every = (n: number) => probe({ samples: changed((value, i) => (i % n === 5 ? value + 1 : value)) });
    expect(on(10.001, every(250))).toEqual([]);
    expect(on(10.001, every(20))[0]).toMatchObject({ severity: 'watch' });
    expect(on(10.001, every(20))[0]?.title).toContain('are spikes');
  });

  test('whose values were refused says how many, though what is left looks well', () => {
    const [found] = on(10.001, probe({ rejected: 40 }));
    expect(found?.title).toContain('12 % of its values cannot be');
    expect(found?.firstStep).toContain('Do not use its values');
  });

  test('wild in the tank and steady in the standard has an electrical fault', () => {
    const random = seededRandom(3);
    const wild = probe({ samples: changed((value) => value + 0.8 * random.normal()) });
    const check = (value: number) => ({
      id: madeId(),
      day: dayZero,
      at: onDay(0).toISOString(),
      standard: 7,
      value,
      u: 0.05,
    });
    const kit = { id: wild.kitId, checks: [7.01, 7, 6.99, 7].map(check) } as unknown as KitFact;
    expect(on(10.001, wild, { kits: [kit] })[0]?.title).toContain('an electrical fault, not the water');
    expect(on(10.001, wild)[0]?.title).toContain('its values jump about');
  });
});

describe('a device whose last will came', () => {
  const device = (kitIds: readonly string[] = []) => ({
    topic: 'hall/ph1/state',
    since: onDay(10).toISOString(),
    sinceDay: dayZero + 10,
    probes: kitIds.map((kitId) => ({
      name: 'hall/ph1/ph',
      kitId,
      label: 'pH probe',
      systemName: 'Long run',
    })),
  });

  test('is one alert, with since when and what it carries', () => {
    const [found, ...others] = firing(
      find(deviceSilent, blankSystem({ silentDevices: [device([madeId()])] }), 10.5),
    );
    expect(others).toEqual([]);
    expect(found).toMatchObject({
      title: 'Long run: a device is silent',
      facet: 'hall/ph1/state',
      began: { from: onDay(10).toISOString(), to: onDay(10).toISOString() },
      number: { text: '12', unit: 'h' },
    });
    expect(found?.figures).toContainEqual({ label: 'Its probes', text: 'pH probe' });
  });

  test('says that its probes are not known where none has a name in its branch', () => {
    const [found] = firing(find(deviceSilent, blankSystem({ silentDevices: [device()] }), 10.5));
    expect(found?.why).toContain('not known');
  });

  test('explains the silence of its own probe, and nothing else that is wrong with it', () => {
    const own = probe();
    const silentDevices = [device([own.kitId])];
    const causesOf = (one: ProbeFact, minutes: number) =>
      on(10 + minutes * minute, one, { silentDevices })[0]?.causes;
    expect(causesOf(own, 300)).toEqual([
      { rule: 'device-silent', subject: { type: 'system', id: expect.any(String) }, facet: 'hall/ph1/state' },
    ]);
    expect(on(10 + 300 * minute, probe(), { silentDevices })[0]?.causes).toEqual([]);
    expect(causesOf({ ...own, rejected: 100 }, 1)).toEqual([]);
  });
});
