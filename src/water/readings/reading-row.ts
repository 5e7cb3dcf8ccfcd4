import { uuidv7 } from 'uuidv7';
import type { Prisma, Trust } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { type Entry, type Understood, understand } from '../entry/entry.rules.ts';
import { doubtOf } from '../entry/plausibility.rules.ts';
import { type Bench, type Instrument, instrumentOf } from '../kits/instruments.ts';
import { type Quantity, say } from '../quantities/quantities.ts';
import type { History } from '../trust/history.ts';
import { cannotTell } from '../trust/resolution.rules.ts';
import { judge, type Measurement, type Verdict, whatSettles } from '../trust/trust.rules.ts';

/** One line of a form or request, read. */
export interface Line {
  entry: Entry;
  quantity: Quantity;
  instrument: Instrument;
  reading: Understood;
}

/** One reading as it was kept; plain JSON. */
export interface EnteredReading {
  id: string;
  quantityCode: string;
  name: string;
  /** As the farm writes it: "8.3 dKH". */
  said: string;
  trust: Trust;
  reason: string;
  /** What would settle an unconfirmed reading. */
  advice: string;
  /** What this test cannot tell here, where it is too coarse for the band. */
  caution: string;
}

/** A row to be written. */
export type ReadingRow = Prisma.ReadingCreateManyInput & { id: string; enteredText: string; trust: Trust };

/** One line read, null where nothing was measured, or what is wrong with it. */
export function readLine(entry: Entry, quantity: Quantity, bench: Bench, at: Date): Line | null | string {
  const instrument = instrumentOf(bench, entry, quantity, at);
  if ('refused' in instrument) return instrument.refused;
  const read = understand(entry, quantity, instrument.method);
  if (!read.ok) return read.message;
  return read.reading === null ? null : { entry, quantity, instrument, reading: read.reading };
}

/** The message with the quantity's name, so that a list of several can be told apart. */
export function naming(message: string, quantity: Quantity | undefined): string {
  if (quantity === undefined || message.toLowerCase().includes(quantity.name.toLowerCase())) return message;
  return `${quantity.name}: ${message}`;
}

/** The line as the rules of trust see it. */
export function measurement({ reading, instrument }: Line, at: Date): Measurement {
  const { value, below, uncertainty } = reading;
  const { method, kitId } = instrument;
  return { at, value, below, uncertainty, kitId, methodId: method?.id ?? null };
}

const unknown: History = { past: [], pending: [], later: [], band: { low: null, high: null }, explained: 0 };

/** What is kept of a line, how far it is relied on, and what is told of it. */
export function keep(
  work: Pick<Work, 'by' | 'machine' | 'now'>,
  input: { systemId: string; at: Date; note?: string | undefined },
  line: Line,
  history: History = unknown,
): { row: ReadingRow; verdict: Verdict; told: EnteredReading } {
  const { entry, quantity, reading } = line;
  const measured = measurement(line, input.at);
  const verdict = doubted(work, line, judge(measured, { quantity, ...history }), history);
  const row: ReadingRow = {
    id: uuidv7(),
    systemId: input.systemId,
    quantityCode: quantity.code,
    methodId: measured.methodId,
    kitId: measured.kitId,
    at: input.at,
    value: reading.value,
    belowDetection: reading.below,
    uncertainty: reading.uncertainty,
    enteredText: entry.text.trim(),
    enteredUnit: reading.unit,
    factor: reading.factor,
    trust: verdict.trust,
    trustReason: verdict.reason,
    settledById: verdict.settledBy,
    note: entry.note || input.note || '',
    batch: entry.batch ?? '',
    accountId: work.by,
    accessKeyId: work.machine,
    createdAt: work.now,
  };
  const told: EnteredReading = {
    id: row.id,
    quantityCode: quantity.code,
    name: quantity.name,
    said: say(quantity, reading.value, reading.below),
    trust: verdict.trust,
    reason: verdict.reason,
    advice: verdict.trust === 'unconfirmed' ? whatSettles(quantity, measured) : '',
    caution: cannotTell(quantity, measured, history.band) ?? '',
  };
  return { row, verdict, told };
}

/** What an instrument posts outside the usual range waits for a second reading, since nobody could be asked. */
function doubted(work: Pick<Work, 'machine'>, line: Line, verdict: Verdict, history: History): Verdict {
  if (work.machine === null || verdict.trust !== 'plain') return verdict;
  const { entered, unit } = line.reading;
  const measured = measurement(line, new Date(0));
  const doubt = doubtOf(line.quantity, { value: entered, unit, measured }, history.past.at(-1) ?? null);
  return doubt === null ? verdict : { ...verdict, trust: 'unconfirmed', reason: doubt };
}

/** Confirms or refutes readings that waited, all in one statement. */
export async function settleReadings(
  work: Work,
  settled: readonly { id: string; trust: Trust; reason: string; by: string }[],
): Promise<void> {
  if (settled.length === 0) return;
  await work.tx.$executeRaw`
    UPDATE reading SET trust = said.trust::"Trust", trust_reason = trim(reading.trust_reason || ' ' || said.reason), settled_by_id = said.by::uuid
      FROM unnest(${settled.map((one) => one.id)}::text[], ${settled.map((one) => one.trust)}::text[],
                  ${settled.map((one) => one.reason)}::text[], ${settled.map((one) => one.by)}::text[]) AS said(id, trust, reason, by)
     WHERE reading.id = said.id::uuid AND reading.trust = 'unconfirmed'`;
  for (const { id, trust, reason } of settled)
    work.note(`reading.${trust}`, { type: 'reading', id }, { reason });
}
