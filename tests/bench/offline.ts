/**
 * Two tablets on one round over a network that fails: `npm run bench:offline`, with how many runs of the tablet's own
 * queue (200) and how many in real browsers (20) may be named, and the seed of chance. Counts what is lost, doubled and
 * out of order, and fails where that is not nothing.
 */

import { seededRandom } from '../../src/science/statistics/random.ts';
import { browserRuns } from './offline/browser.ts';
import { compare, startFarm, type Tally } from './offline/farm.ts';
import { Session } from './offline/network.ts';
import { BenchTablet } from './offline/tablet.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const [runs, inBrowsers, seed] = [200, 20, 20_261].map((usual, i) => Number(process.argv[2 + i] ?? usual));
const taps = 12;

const chance = seededRandom(seed ?? 1).uniform;
const farm = await startFarm();
const sum = { lost: 0, doubled: 0, outOfOrder: 0, entries: 0, runs: 0 };
const add = (tally: Tally, entries: number) => {
  sum.lost += tally.lost;
  sum.doubled += tally.doubled;
  sum.outOfOrder += tally.outOfOrder;
  sum.entries += entries;
  sum.runs += 1;
};
const tell = (what: string, from: number, more: string) =>
  say(
    `${what}: ${sum.runs} runs, ${sum.entries} entries, ${more}; lost ${sum.lost}, doubled ${sum.doubled}, out of order ${sum.outOfOrder}; ${((performance.now() - from) / 1000).toFixed(0)} s`,
  );

/** What a hand taps on the way, by chance. */
async function walk(tablet: BenchTablet): Promise<void> {
  const { lots, window, wall, systemId } = farm.hall;
  const pick = <T>(list: readonly T[]): T => list[Math.floor(chance() * list.length)] as T;
  for (let i = 0; i < taps; i++) {
    const lot = pick(Object.values(lots));
    const offered: [string, Record<string, string>][] = [
      ['condition', { lotId: lot.id, state: pick(['paling', 'bleached', 'pest']), grade: '', note: '' }],
      ['count', { lotId: lot.id, pieces: '5' }],
      ['rack_well', { rackId: pick([window, wall]) }],
      ['chore', { key: `own:chore ${i}` }],
      ['feeding', { systemId, food: 'Fine food' }],
    ];
    const [kind, fields] = pick(offered);
    await tablet.tap(kind, fields);
  }
}

try {
  const counted = { cuts: 0, reloads: 0, signedOut: 0 };
  let unsettled = 0;
  let from = performance.now();
  const sessions = farm.people.map((person) => new Session(farm.bench.app, person));
  for (const session of sessions) await session.signIn();
  for (let run = 0; run < (runs ?? 0); run++) {
    const roundId = await farm.newRound();
    const tablets = sessions.map((session) => new BenchTablet(session, roundId, chance));
    await Promise.all(tablets.map(walk));
    unsettled += (await Promise.all(tablets.map((tablet) => tablet.settle()))).filter((done) => !done).length;
    for (const tablet of tablets) {
      counted.cuts += tablet.counted.cuts;
      counted.reloads += tablet.counted.reloads;
      counted.signedOut += tablet.counted.signedOut;
    }
    const lists = tablets.map(({ tapped }) => tapped);
    add(await compare(farm, roundId, lists), lists.flat().length);
  }
  const faults = `${counted.cuts} cuts, ${counted.reloads} reloads, ${counted.signedOut} ended sessions, ${unsettled} tablets left unsent`;
  tell('the tablet’s queue', from, faults);
  let bad = unsettled + sum.lost + sum.doubled + sum.outOfOrder;
  Object.assign(sum, { lost: 0, doubled: 0, outOfOrder: 0, entries: 0, runs: 0 });
  from = performance.now();
  // What was counted before a fault is told all the same.
  await browserRuns(farm, inBrowsers ?? 0, chance, add).finally(() =>
    tell('real browsers', from, 'cuts, reloads and ended sessions by chance'),
  );
  bad += sum.lost + sum.doubled + sum.outOfOrder;
  process.exitCode = bad === 0 ? 0 : 1;
} catch (error) {
  say(error instanceof Error ? (error.stack ?? error.message) : String(error));
  process.exitCode = 1;
} finally {
  await farm.close();
}
