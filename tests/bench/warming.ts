/**
 * How soon water that warms fast is told, and how often it is told falsely: `node tests/bench/warming.ts [--systems n] [--seed n]`, a
 * year of each system by the rule itself. A false alert is one at which the water truly stood less than 0.7 degC above the usual high
 * of its week. Prints figures, asserts nothing.
 */
import { stdout } from 'node:process';
import { parseArgs } from 'node:util';
import { quantile } from './detect/counting.ts';
import { follow, type Habit } from './warming/follow.ts';

const { values } = parseArgs({
  options: {
    systems: { type: 'string', default: '20' },
    seed: { type: 'string', default: '740000000' },
    only: { type: 'string', default: '' },
  },
});
const [systems, seed] = [Number(values.systems), Number(values.seed)];
const aims = { falsely: 0.3, above: 2 };

const good = { noise: 0.05, drift: 0.05 };
const habits: readonly Habit[] = [
  { name: 'a probe every minute', probe: { everyMinutes: 1, ...good } },
  { name: 'a probe every 10 minutes', probe: { everyMinutes: 10, ...good } },
  { name: 'a poor probe every 10 minutes', probe: { everyMinutes: 10, noise: 0.2, drift: 0.2 } },
  {
    name: 'a probe every 10 minutes beside a daily test',
    probe: { everyMinutes: 10, ...good },
    round: { hours: [8], weekdays: [0, 1, 2, 3, 4, 5, 6] },
  },
  {
    name: 'by hand each morning and afternoon, two people',
    round: { hours: [8, 15], weekdays: [0, 1, 2, 3, 4, 5, 6] },
  },
  { name: 'by hand twice a week', round: { hours: [10], weekdays: [1, 4] } },
].filter(({ name }) => name.includes(values.only));

const each = <T>(make: (i: number) => T): T[] => Array.from({ length: systems }, (_, i) => make(i));
const figure = (value: number, decimals: number) =>
  Number.isFinite(value) ? value.toFixed(decimals) : 'never';

for (const [n, habit] of habits.entries()) {
  const calm = each((i) => follow(habit, seed + 10_000 * n + i, null));
  const rate = (of: 'falsely' | 'inHeat' | 'warm') => calm.reduce((sum, one) => sum + one[of], 0) / systems;
  const missed = rate('falsely') <= aims.falsely ? '' : ', MISSED';
  stdout.write(
    `Temperature by ${habit.name}: false ${rate('falsely').toFixed(2)} a system-year (aim at most ${aims.falsely}${missed}; ${systems} years); truly warmer by a heat wave ${rate('inHeat').toFixed(2)}, else ${rate('warm').toFixed(2)}\n`,
  );
  for (const perHour of [0.1, 0.25, 0.5, 1]) {
    const met = each((i) => follow(habit, seed + 10_000 * n + 1_000 + i, perHour).told);
    const of = (what: 'hours' | 'after' | 'above') => met.map((told) => told[what]);
    const soon = of('above').filter((above) => above < aims.above).length / systems;
    stdout.write(
      `  heater stuck on, ${perHour} degC an hour: median ${figure(quantile(of('hours'), 0.5), 1)} h after it began (90 % ${figure(quantile(of('hours'), 0.9), 1)}), ${figure(quantile(of('after'), 0.5), 1)} h after it stood a degree above the week (90 % ${figure(quantile(of('after'), 0.9), 1)}); told before it stood ${aims.above} degrees above in ${Math.round(100 * soon)} %\n`,
    );
  }
}
