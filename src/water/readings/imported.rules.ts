import { dayMs, daysBetween } from '../../science/numeric/time.ts';
import type { Quantity } from '../quantities/quantities.ts';
import { agree, followsFrom } from '../trust/agreement.rules.ts';
import { confirmationOf } from '../trust/confirmation.rules.ts';
import type { StoredReading } from '../trust/measured.ts';
import { surpriseOf } from '../trust/surprise.rules.ts';
import { refuteDays, type Verdict } from '../trust/trust.rules.ts';

/** An imported reading is judged by those within this many days of it, and by at most so many before it. */
export const judgedWithinDays = 120;
const readingsBack = 30;
/** The band is today's, so that readings older than this are not judged by it; own choice. */
const bandDays = 14;

/** Readings of one quantity in one system by one source: the farm's own tests, or one laboratory. */
export interface ImportedSeries {
  quantity: Quantity;
  band: { low: number | null; high: number | null };
  /** Trusted readings that are in the database already. */
  existing: readonly StoredReading[];
  imported: readonly StoredReading[];
}

/** How far an imported reading is trusted, and which reading says so. */
export type ImportedVerdict = Pick<Verdict, 'trust' | 'reason' | 'settledBy'>;

const plain: ImportedVerdict = { trust: 'plain', reason: '', settledBy: null };

/**
 * Judges imported readings in hindsight, oldest first. Nobody can test yesterday's water again, so a surprising reading is
 * settled by the next one of its source: confirmed when the next agrees or lies on the same side no nearer, refuted when the next comes within two days and
 * fits the readings before, else unconfirmed. Yields verdicts by the reading's id.
 */
export function* judgeImported(line: ImportedSeries, now: Date): Generator<[string, ImportedVerdict]> {
  const own = new Set(line.imported.map((one) => one.id));
  const all = [...line.existing, ...line.imported].sort((a, b) => a.at.getTime() - b.at.getTime());
  const past: StoredReading[] = [];
  /** The reading that the one before was confirmed by. */
  let confirms: StoredReading | undefined;
  for (const [i, reading] of all.entries()) {
    while (past[0] !== undefined && (reading.at.getTime() - past[0].at.getTime()) / dayMs > judgedWithinDays)
      past.shift();
    if (past.length > readingsBack) past.shift();
    if (!own.has(reading.id)) {
      past.push(reading);
      confirms = undefined;
      continue;
    }
    const next = all[i + 1];
    let verdict = judgeOne(reading, [next, all[i + 2]], past, line, now);
    if (verdict.trust === 'unconfirmed' && confirms?.id === reading.id)
      verdict = {
        trust: 'confirmed',
        reason: `${verdict.reason} The reading before says the same.`,
        settledBy: null,
      };
    const repeats = next !== undefined && !followsFrom(reading, next);
    confirms = verdict.trust === 'confirmed' && repeats ? next : undefined;
    if (verdict.trust === 'plain' || verdict.trust === 'confirmed')
      past.push({ ...reading, confirmed: verdict.trust === 'confirmed' });
    yield [reading.id, verdict];
  }
}

/** The next refutes where it is by the same method, or where one more says the same; methods that differ are no slip. */
const refutes = (reading: StoredReading, next: StoredReading, second: StoredReading | undefined): boolean =>
  next.methodId === reading.methodId ||
  (second !== undefined && daysBetween(reading.at, second.at) <= refuteDays && agree(next, second));

function judgeOne(
  reading: StoredReading,
  [next, second]: (StoredReading | undefined)[],
  past: readonly StoredReading[],
  { quantity, band }: ImportedSeries,
  now: Date,
): ImportedVerdict {
  const recent = daysBetween(reading.at, now) <= bandDays;
  const setting = {
    quantity,
    band: recent ? band : { low: null, high: null },
    past,
    pending: [],
    later: [],
    expectedChange: 0,
  };
  const surprise = surpriseOf(reading, setting);
  if (surprise === null) return plain;
  const gap = next === undefined ? Number.POSITIVE_INFINITY : daysBetween(reading.at, next.at);
  if (next === undefined || gap > judgedWithinDays)
    return { trust: 'unconfirmed', reason: surprise, settledBy: null };
  if (confirmationOf(reading, next, setting) !== null)
    return { trust: 'confirmed', reason: `${surprise} The next reading says the same.`, settledBy: next.id };
  if (gap <= refuteDays && refutes(reading, next, second) && surpriseOf(next, setting) === null) {
    const reason = `${surprise} Refuted by the next reading, which fits the readings before.`;
    return { trust: 'refuted', reason, settledBy: next.id };
  }
  return { trust: 'unconfirmed', reason: surprise, settledBy: null };
}
