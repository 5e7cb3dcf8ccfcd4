import { describe, expect, test } from 'vitest';
import { air, correct, down, hold, isolate, measure, people, source } from '../../../src/alerts/advice.ts';
import { arbitrate } from '../../../src/watch/advice/arbiter.ts';
import { groundOf } from '../../../src/watch/advice/ground.ts';
import { firstThings, type ToldAlert } from '../../../src/water/system-page/first-things.rules.ts';
import { onDay } from '../facts.ts';
import { foundIn, today, troubledWorld } from './worlds.ts';

const alert = (
  id: string,
  severity: ToldAlert['severity'],
  ...advice: ToldAlert['advice'] & object
): ToldAlert => ({
  id,
  title: `Alert ${id}`,
  severity,
  advice,
  isExplained: false,
});

describe('what is done first in a system', () => {
  test('is in one order over all alerts, the most urgent first within one place, each line with its alert', () => {
    const lines = firstThings([
      alert('a', 'today', source('Stop feeding.', down('food')), correct('Change a fifth of the water.')),
      alert(
        'b',
        'now',
        source('Unplug the heater.', down('heating')),
        air('Lids off, air up.'),
        people('Switch off first.'),
      ),
    ]);
    expect(lines.map(({ alertId, text }) => `${alertId}: ${text}`)).toEqual([
      'b: Switch off first.',
      'b: Lids off, air up.',
      'b: Unplug the heater.',
      'a: Stop feeding.',
      'a: Change a fifth of the water.',
    ]);
  });

  test('leaves out what waits and what is only watched, says nothing twice, and stays short', () => {
    const waits = { ...correct('Raise it slowly.'), waits: true as const };
    const many = Array.from({ length: 9 }, (_, i) => measure(`Test number ${i}.`));
    const lines = firstThings([
      alert('a', 'now', source('Stop the doser.', hold('dose')), waits),
      alert('b', 'today', source('Stop the doser.', hold('dose')), ...many),
      alert('c', 'watch', people('Look one day.')),
      { ...alert('d', 'now'), advice: null },
    ]);
    expect(lines).toHaveLength(7);
    expect(lines.filter(({ text }) => text === 'Stop the doser.')).toEqual([
      { alertId: 'a', title: 'Alert a', text: 'Stop the doser.' },
    ]);
    expect(lines.map(({ text }) => text)).not.toContain('Raise it slowly.');
    expect(lines.map(({ alertId }) => alertId)).not.toContain('c');
  });
});

test('steps of an alert that another explains are left to the other, but what saves animals now', () => {
  const explained = (one: ToldAlert): ToldAlert => ({ ...one, isExplained: true });
  const lines = firstThings([
    alert('lamps', 'now', correct('Turn the lamps down to 70 %.')),
    explained(alert('pale', 'today', isolate('Keep these lots apart.'), measure('Look at it again.'))),
    explained(alert('gasping', 'now', air('Air up.'), measure('Test the oxygen.'))),
  ]);
  expect(lines.map(({ text }) => text)).toEqual(['Air up.', 'Turn the lamps down to 70 %.']);
});

test('the advice of a system with forty open alerts is composed within 5 ms', () => {
  const facts = troubledWorld(3);
  const findings = Array.from({ length: 9 }, (_, i) => foundIn(troubledWorld(i + 1)))
    .flat()
    .slice(0, 40)
    .map((finding, i) => ({ ...finding, facet: `${finding.facet} ${i}` }));
  expect(findings).toHaveLength(40);
  const ground = groundOf(facts);
  const now = onDay(today);
  const times = Array.from({ length: 60 }, () => {
    const begun = process.cpuUsage();
    arbitrate(findings, ground, now);
    const { user, system } = process.cpuUsage(begun);
    return (user + system) / 1000;
  }).sort((a, b) => a - b);
  expect(times[30]).toBeLessThan(5);
});
