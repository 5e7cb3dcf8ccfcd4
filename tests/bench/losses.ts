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
import { fewestAffected, rivalsOf, standsOut } from '../../src/watch/affected/result.rules.ts';
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

/** What the comparison says of one farm: how likely chance makes its strongest grouping, and whether that is the truth, or one as good. */
function comparedIn(seed: number, source: Source | null, rough: boolean) {
  const { members, truth } = outbreakWorld(seed, source, rough);
  const affected = members.filter((one) => one.affected).length;
  const scan =
    affected < fewestAffected ? null : scanGroups(members, { orders: 999, smallest: 2, limit: 1.1 });
  if (scan === null || scan.best === null) return { p: 1, right: false, near: false, truth };
  const isTruth = (one: { by: string; name: string }) => one.by === truth?.by && one.name === truth?.name;
  const names = (one: { by: string; name: string; same: { by: string; name: string }[] }) =>
    [one, ...one.same].some(isTruth);
  const right = names(scan.best);
  return { p: scan.best.p, right, near: right || rivalsOf(scan).some(names), truth };
}

/** Levels below which a grouping could be named; the service names at `standsOut`. */
const levels = [0.05, 0.03, 0.02, standsOut];

say(
  `What affected lots share, farms of 150 to 500 lots by 15 ways of grouping; the service names below ${standsOut}`,
);
for (const rough of [false, true]) {
  const calm = Array.from({ length: 3 * size }, (_, i) => comparedIn(firstSeed + 20_000 + i, null, rough));
  const named = levels.map((level) => {
    const wrong = calm.filter(({ p }) => p < level).length;
    return `${percent(wrong, calm.length)} at ${level}`;
  });
  say(`  nothing to find, ${rough ? 'rough' : 'plain'}: something named in ${named.join(', ')}`);
}
for (const rough of [false, true]) {
  const all = sources.flatMap((source, s) =>
    Array.from({ length: Math.ceil(size / 4) }, (_, i) => ({
      source,
      ...comparedIn(firstSeed + 30_000 + 1000 * s + i, source, rough),
    })).filter(({ truth }) => truth !== null),
  );
  for (const level of levels) {
    const named = all.filter(({ p }) => p < level);
    const right = named.filter((one) => one.right).length;
    const near = named.filter((one) => one.near).length;
    say(
      `  an outbreak, ${rough ? 'rough' : 'plain'}, at ${level}: right ${percent(right, all.length)}, with those as good ${percent(near, all.length)}, named wrongly ${percent(named.length - near, all.length)}`,
    );
  }
  for (const source of sources) {
    const of = all.filter((one) => one.source === source);
    const named = of.filter(({ p }) => p < standsOut);
    say(
      `  ${source}, ${rough ? 'rough' : 'plain'}: right ${percent(named.filter((one) => one.right).length, of.length)}, nothing named ${percent(of.length - named.length, of.length)}`,
    );
  }
}
