import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { isFuture } from '../../platform/web/moments.ts';
import type { ReadingEntry } from '../entry/entry.rules.ts';
import { isProbe, loadInstrumentCatalog } from '../kits/instruments.ts';
import { lockOpenWaterSystem } from '../systems/systems.ts';
import { loadHistories, type ReadingHistory } from '../trust/history.ts';
import type { StoredReading } from '../trust/measured.ts';
import type { Verdict } from '../trust/trust.rules.ts';
import {
  buildReadingRow,
  type ReadingRow,
  type ResolvedEntry,
  resolveEntry,
  settleReadings,
  withQuantityName,
} from './readings.ts';

/** One sample of a batch: an entry with its own time. */
export type ProbeSample = ReadingEntry & { at: Date };

/** What became of a batch; plain JSON, the answer of the API. */
export interface SamplesResult {
  kept: number;
  unconfirmed: number;
  /** Samples that were not saved, by their place in the list (from 0), and why. */
  refused: { sample: number; message: string }[];
}

interface TimedEntry {
  at: Date;
  line: ResolvedEntry;
}

/** How many past readings show how the level moves: the same as for a single reading (`readingsBack` of the history). */
const mostPast = 30;

/**
 * Saves many samples of one system at once, as instruments send them. Each is judged with those before it. An impossible
 * one is left out and named, and the others are saved. A fixed number of queries, however many samples.
 * @throws Refusal when none of them can be saved
 */
export async function enterSamples(
  work: Work,
  { systemId, samples }: { systemId: string; samples: readonly ProbeSample[] },
): Promise<SamplesResult> {
  const system = await lockOpenWaterSystem(work.tx, systemId);
  const catalog = await loadInstrumentCatalog(work.tx, [
    ...new Set(samples.map((sample) => sample.quantityCode)),
  ]);
  const refused: SamplesResult['refused'] = [];
  const reads: TimedEntry[] = [];
  for (const [i, sample] of samples.entries()) {
    const quantity = catalog.quantities.get(sample.quantityCode);
    const line =
      wrongTime(sample.at, work.now) ??
      (quantity === undefined
        ? `There is no quantity called "${sample.quantityCode}".`
        : resolveEntry(sample, quantity, catalog, sample.at));
    if (typeof line === 'string') refused.push({ sample: i, message: withQuantityName(line, quantity) });
    else if (line !== null) reads.push({ at: sample.at, line });
  }
  if (reads.length === 0)
    throw new Refusal(refused[0]?.message ?? 'Send at least one sample that was measured.', {
      field: 'samples',
    });
  const { rows, settled } = await judgeSamples(work, systemId, reads);
  await work.tx.reading.createMany({ data: rows });
  await settleReadings(work, settled);
  const result = {
    kept: rows.length,
    unconfirmed: rows.filter(({ trust }) => trust === 'unconfirmed').length,
    refused,
  };
  work.record(
    'samples.entered',
    { type: 'system', id: systemId },
    { system: system.name, ...result, refused: refused.length },
  );
  work.reevaluate(systemId);
  return result;
}

/** Why a sample of that time is not kept; null where it is. */
function wrongTime(at: Date, now: Date): string | null {
  if (Number.isNaN(at.getTime()))
    return 'Its time cannot be read. Send an instant like 2026-11-24T07:30:00Z.';
  return isFuture(at, now) ? 'Its time lies in the future. Set the clock of what sends it.' : null;
}

/** Every sample as a row, in order of time, and what they settle of the readings that are there. */
async function judgeSamples(work: Work, systemId: string, reads: TimedEntry[]) {
  reads.sort((a, b) => a.at.getTime() - b.at.getTime());
  const first = reads[0]?.at ?? work.now;
  const codes = [...new Set(reads.map(({ line }) => line.quantity.code))];
  const histories = await loadHistories(work.tx, systemId, codes, first);
  const rows = new Map<string, ReadingRow>();
  const settled: { id: string; trust: 'confirmed' | 'refuted'; reason: string; by: string }[] = [];
  for (const { at, line } of reads) {
    const history = histories.get(line.quantity.code);
    const { row, verdict } = buildReadingRow(
      work,
      { systemId, at },
      line,
      history && { ...history, later: [] },
    );
    rows.set(row.id, row);
    for (const one of verdict.settles) {
      const own = rows.get(one.id);
      if (own === undefined) settled.push({ ...one, by: row.id });
      else
        Object.assign(own, {
          trust: one.trust,
          trustReason: `${own.trustReason} ${one.reason}`,
          settledById: row.id,
        });
    }
    if (history !== undefined) addToHistory(history, row, verdict, isProbe(line.instrument.method));
  }
  return { rows: [...rows.values()], settled };
}

/** The history as the next sample finds it. */
function addToHistory(
  history: ReadingHistory,
  row: ReadingRow,
  { trust, settles }: Verdict,
  probe: boolean,
): void {
  const stored: StoredReading = {
    id: row.id,
    at: row.at as Date,
    value: row.value,
    below: row.belowDetection ?? false,
    above: row.aboveScale ?? false,
    uncertainty: row.uncertainty,
    kitId: row.kitId ?? null,
    methodId: row.methodId ?? null,
    probe,
  };
  const confirmed = settles.filter((one) => one.trust === 'confirmed').map((one) => one.id);
  const joined = history.pending.filter((one) => confirmed.includes(one.id));
  history.pending = history.pending.filter((one) => !settles.some(({ id }) => id === one.id));
  if (trust === 'unconfirmed') history.pending.push(stored);
  else history.past = [...history.past, ...joined, stored].slice(-mostPast);
}
