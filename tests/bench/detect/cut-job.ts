import { seededRandom } from '../../../src/science/statistics/random.ts';
import type { LotFact } from '../../../src/watch/facts/types.ts';
import { cutBatch } from '../../../src/watch/rules/lots/cut-batch.ts';
import { FarmSettings } from '../../../src/watch/settings/settings.rules.ts';
import { blankLot, blankSystem, dayZero, onDay } from '../../watch/facts.ts';
import { look } from '../../watch/kinds.ts';

/** Lots that are cut by the handful every two to three weeks and looked at once a week, in water that is in order. */
export interface CutJob {
  kind: 'cuts';
  heading: string;
  /** Years of one system; a cut goes bad once a year where `bad`. */
  years: number;
  seed: number;
}

export interface CutResult {
  kind: 'cuts';
  job: CutJob;
  /** Cuts told a year without a bad one, of all that were made. */
  falsely: number;
  cuts: number;
  /** Bad cuts: how many there were, the part of them of which two lots lose flesh, and the part of those that is told within three weeks. */
  bad: number;
  shows: number;
  told: number;
  /** Median days from the cut to its alert. */
  median: number;
}

// Own assumptions throughout: the farm's numbers, and how often flesh is lost by itself, after a cut and after a bad one.
const lots = 40;
const yearDays = 365;
const afterCut = 0.03;
const afterBad = 0.6;
const byItself = 0.4;
const recoversDays = 40;
const missedLook = 0.1;
const withinDays = 21;

/** Runs one job; the same job gives the same result on every machine. */
export function runCuts(job: CutJob): CutResult {
  const years = Array.from({ length: job.years }, (_, i) => ({
    calm: liveCuts(job.seed + 2 * i, false),
    troubled: liveCuts(job.seed + 2 * i + 1, true),
  }));
  const bad = years.flatMap(({ troubled }) => troubled.bad ?? []);
  const shown = bad.filter(({ losing }) => losing >= 2);
  const delays = shown.map(({ delay }) => delay).sort((a, b) => a - b);
  return {
    ...{ kind: 'cuts', job },
    falsely: years.reduce((sum, { calm }) => sum + calm.told.size, 0) / job.years,
    cuts: years.reduce((sum, { calm }) => sum + calm.cuts, 0) / job.years,
    ...{ bad: bad.length, shows: shown.length / Math.max(1, bad.length) },
    told: delays.filter((delay) => delay <= withinDays).length / Math.max(1, shown.length),
    median: delays[Math.floor((delays.length - 1) / 2)] ?? Number.NaN,
  };
}

interface Life {
  cutDay: number | null;
  /** Loses flesh from one day to another. */
  ill: { from: number; to: number } | null;
  seen: LotFact['conditions'];
}

function liveCuts(seed: number, hasBad: boolean) {
  const random = seededRandom(seed);
  const all: Life[] = Array.from({ length: lots }, () => ({ cutDay: null, ill: null, seen: [] }));
  const told = new Set<number>();
  const badAfter = 120 + random.below(180);
  let bad: { day: number; losing: number; delay: number } | null = null;
  let [next, cuts] = [random.below(14), 0];
  for (let day = 0; day < yearDays; day++) {
    for (const one of all) {
      if (one.ill !== null && day >= one.ill.to) one.ill = null;
      if (one.ill === null && random.uniform() < byItself / yearDays)
        one.ill = { from: day, to: day + recoversDays };
    }
    if (day >= next) {
      next = day + 14 + random.below(8);
      cuts += 1;
      const isBad = hasBad && bad === null && day >= badAfter;
      const cut = new Set(Array.from({ length: 4 + random.below(5) }, () => all[random.below(lots)] as Life));
      let losing = 0;
      for (const one of cut) {
        one.cutDay = day;
        const from = day + 3 + random.below(10);
        if (one.ill !== null || random.uniform() >= (isBad ? afterBad : afterCut)) continue;
        one.ill = { from, to: from + recoversDays };
        losing += 1;
      }
      if (isBad) bad = { day, losing, delay: Number.POSITIVE_INFINITY };
    }
    if (day % 7 !== 5) continue;
    for (const one of all) {
      if (random.uniform() < missedLook) continue;
      const losing = one.ill !== null && day >= one.ill.from;
      one.seen = [look(day, losing ? 'receding' : 'well', losing ? 1 : null), ...one.seen].slice(0, 12);
    }
    for (const cutOn of toldOn(all, day)) {
      if (bad !== null && cutOn === bad.day) bad.delay = Math.min(bad.delay, day - bad.day);
      else told.add(cutOn);
    }
  }
  return { told, cuts, bad };
}

/** The days of the cuts that the rule tells now. */
function toldOn(all: readonly Life[], day: number): number[] {
  const facts = blankSystem({
    lots: all.map(({ cutDay, seen }, n) =>
      blankLot({
        ...{ id: `lot ${n}`, code: `L-${n}`, cells: [{ row: 1 + 3 * n, column: 1 }], rackId: `rack ${n}` },
        ...{ conditions: seen, cutDay: cutDay === null ? null : dayZero + cutDay },
      }),
    ),
  });
  const book = new FarmSettings([]);
  return cutBatch
    .evaluate(facts, book.here(cutBatch, facts.systemId), onDay(day + 0.5))
    .filter(({ status }) => status === 'fires')
    .flatMap((found) => [...new Set(found.lots.map((id) => all[Number(id.slice(4))]?.cutDay ?? -1))]);
}
