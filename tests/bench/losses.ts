/**
 * How often losses are called above usual for nothing and how soon an outbreak is, and how often the comparison of affected
 * lots names what it truly was: `node tests/bench/losses.ts [--quick]`. Prints figures, asserts nothing. Seeds from 700
 * million are used for nothing but this report; limits were chosen on seeds from 300 million (`--tuning`).
 */
import { stdout } from 'node:process';
import { parseArgs } from 'node:util';
import { scanGroups } from '../../src/science/scan.ts';
import { binomialInterval } from '../../src/science/statistics/exact-intervals.ts';
import { isAboveUsual, judgeLosses } from '../../src/stock/losses/usual.rules.ts';
import { rivalsOf, standsOut } from '../../src/watch/affected/result.rules.ts';
import { type LossWorld, lossWorld } from './losses/loss-worlds.ts';
import { outbreakWorld, type Source, sources } from './losses/outbreak-worlds.ts';

const { values } = parseArgs({
  options: { quick: { type: 'boolean', default: false }, tuning: { type: 'boolean', default: false } },
});
const firstSeed = values.tuning ? 300_000_000 : 700_000_000;
const size = values.quick ? 40 : 400;
const days = 730;
const limits = [0.003, 0.001, 0.0005];
const quietDays = 14;

const say = (line: string) => stdout.write(`${line}\n`);
const percent = (part: number, of: number) => {
  const { low, high } = binomialInterval(part, of);
  const text = (share: number) => (100 * share).toFixed(1);
  return `${text(part / of)} % (${text(low)}-${text(high)})`;
};

/** Alerts in the second year of one water, at each limit; `from`: the first day that counts. */
function alertsOf(world: LossWorld, from: number): { count: number; first: number | null }[] {
  const history = lossWorld(world);
  const states = limits.map(() => ({
    count: 0,
    first: null as number | null,
    last: Number.NEGATIVE_INFINITY,
  }));
  for (let day = from; day < days; day++) {
    const { all, kinds } = judgeLosses(history, day);
    for (const [i, limit] of limits.entries()) {
      const state = states[i];
      if (state === undefined || ![all, ...kinds].some((one) => isAboveUsual(one, limit))) continue;
      if (day - state.last > quietDays) state.count += 1;
      state.first ??= day;
      state.last = day;
    }
  }
  return states;
}

say(`Losses above usual, ${size} waters of 30 to 150 lots each: false alerts a system-year`);
for (const rough of [false, true]) {
  const worlds = Array.from({ length: size }, (_, i) =>
    alertsOf({ seed: firstSeed + i, days, rough, outbreak: null }, days - 365),
  );
  const each = limits.map((limit, i) => {
    const count = worlds.reduce((sum, world) => sum + (world[i]?.count ?? 0), 0);
    return `${(count / size).toFixed(3)} at ${limit}`;
  });
  say(`  ${rough ? 'rough (seasons, weeks, kinds, siblings)' : 'plain'}: ${each.join(', ')}`);
}
say('Outbreaks found within 14 days of their begin, and the median day');
for (const [name, ofKind, attack] of [
  ['40 % of one kind', true, 0.4],
  ['15 % of all lots', false, 0.15],
] as const)
  for (const rough of [false, true]) {
    const begun = 600;
    const worlds = Array.from({ length: size }, (_, i) =>
      alertsOf(
        { seed: firstSeed + 10_000 + i, days: begun + 40, rough, outbreak: { day: begun, ofKind, attack } },
        begun,
      ),
    );
    const found = limits.map((limit, i) => {
      const delays = worlds
        .flatMap((world) => world[i]?.first ?? [])
        .map((day) => day - begun)
        .sort((a, b) => a - b);
      const soon = delays.filter((delay) => delay <= 14).length;
      return `${percent(soon, size)} day ${delays[Math.floor(delays.length / 2)] ?? '-'} at ${limit}`;
    });
    say(`  ${name}, ${rough ? 'rough' : 'plain'}: ${found.join(', ')}`);
  }

/** What the comparison says of one farm: whether it names something, and whether that is right, or one of those as good. */
function namedIn(seed: number, source: Source | null, rough: boolean, chance = standsOut) {
  const { members, truth } = outbreakWorld(seed, source, rough);
  const affected = members.filter((one) => one.affected).length;
  const scan =
    affected < 3 ? null : scanGroups(members, { orders: 999, seed: 1, smallest: 2, limit: chance });
  if (scan === null || scan.best === null) return { named: false, right: false, near: false, truth };
  const isTruth = (one: { by: string; name: string }) => one.by === truth?.by && one.name === truth?.name;
  const names = (one: { by: string; name: string; same: { by: string; name: string }[] }) =>
    [one, ...one.same].some(isTruth);
  return {
    named: true,
    right: names(scan.best),
    near: names(scan.best) || rivalsOf(scan).some(names),
    truth,
  };
}

say(`What affected lots share, ${size} farms of 150 to 500 lots by 15 ways of grouping`);
for (const rough of [false, true]) {
  for (const chance of [0.05, standsOut]) {
    const calm = Array.from({ length: size }, (_, i) => namedIn(firstSeed + 20_000 + i, null, rough, chance));
    say(
      `  nothing to find, ${rough ? 'rough' : 'plain'}: something named in ${percent(calm.filter(({ named }) => named).length, size)} at ${chance}`,
    );
  }
}
for (const rough of [false, true]) {
  const all = sources.flatMap((source, s) => {
    const worlds = Array.from({ length: Math.ceil(size / 4) }, (_, i) =>
      namedIn(firstSeed + 30_000 + 1000 * s + i, source, rough),
    ).filter(({ truth }) => truth !== null);
    const right = worlds.filter((one) => one.right).length;
    say(
      `  ${source}, ${rough ? 'rough' : 'plain'}: right ${percent(right, worlds.length)}, with those as good ${percent(worlds.filter((one) => one.near).length, worlds.length)}, nothing named ${percent(worlds.filter((one) => !one.named).length, worlds.length)}`,
    );
    return worlds;
  });
  const wrong = all.filter((one) => one.named && !one.near).length;
  say(
    `  all, ${rough ? 'rough' : 'plain'}: right ${percent(all.filter((one) => one.right).length, all.length)}, named wrongly ${percent(wrong, all.length)}`,
  );
}
