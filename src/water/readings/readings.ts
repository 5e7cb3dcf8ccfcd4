import { uuidv7 } from 'uuidv7';
import type { Prisma, Trust } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { FieldError } from '../../platform/views/page.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { finishCorrections } from '../corrections/completion.ts';
import {
  type ParsedValue,
  parseEntry,
  plausibilityQuestion,
  type ReadingEntry,
} from '../entry/entry.rules.ts';
import {
  type Instrument,
  type InstrumentCatalog,
  isProbe,
  loadInstrumentCatalog,
  resolveInstrument,
} from '../kits/instruments.ts';
import { type Quantity, sayReading } from '../quantities/quantities.ts';
import { lockOpenWaterSystem } from '../systems/systems.ts';
import { loadHistories, type ReadingHistory } from '../trust/history.ts';
import type { MeasuredReading } from '../trust/measured.ts';
import {
  doubtedProbe,
  judgeReading,
  repeatAdvice,
  resolutionCaution,
  type Verdict,
} from '../trust/trust.rules.ts';
import { settledByLate } from './entered-late.ts';

/** What was read in one system at one time. */
export interface ReadingsInput {
  systemId: string;
  at: Date;
  note?: string | undefined;
  readings: readonly ReadingEntry[];
}

/**
 * Saves readings of one system at one time, as entered and in the canonical unit, each with its method's uncertainty and
 * with how far it is trusted. Earlier readings that waited for a second one are confirmed or refuted. A person is asked
 * about an implausible value; an instrument cannot be asked, so its implausible value is saved unconfirmed.
 * @throws Refusal naming each refused quantity as the field; an implausible value is refused at "<quantity>-sure" until
 *   its entry says `sure`
 */
export async function enterReadings(
  work: Work,
  input: ReadingsInput,
): Promise<{ readings: EnteredReading[] }> {
  const system = await lockOpenWaterSystem(work.tx, input.systemId);
  if (input.at > new Date(work.now.getTime() + 5 * minuteMs))
    throw new Refusal('That is in the future. Enter when it was read.', { field: 'at' });
  const catalog = await loadInstrumentCatalog(
    work.tx,
    input.readings.map((entry) => entry.quantityCode),
  );
  const { lines, errors } = resolveInput(input, catalog);
  const codes = lines.map((line) => line.quantity.code);
  const histories = await loadHistories(work.tx, system.id, codes, input.at);
  throwErrors([
    ...errors,
    ...(work.accessKeyId === null ? plausibilityErrors(lines, input.at, histories) : []),
  ]);
  if (lines.length === 0) {
    throw new Refusal('Enter at least one reading.', { field: input.readings[0]?.quantityCode ?? '' });
  }
  const built = lines.map((line) => ({
    ...buildReadingRow(work, input, line, histories.get(line.quantity.code)),
    line,
  }));
  await work.tx.reading.createMany({ data: built.map((one) => one.row) });
  await settleReadings(
    work,
    built.flatMap((one) => one.verdict.settles.map((settled) => ({ ...settled, by: one.row.id }))),
  );
  const late = built.map(({ row: { id }, line }) => ({
    ...{ id, quantityCode: line.quantity.code, at: input.at },
    ...line.reading,
  }));
  await settleReadings(work, await settledByLate(work.tx, system.id, late, histories));
  for (const { row, entered } of built) {
    work.record(
      'reading.entered',
      { type: 'reading', id: row.id },
      {
        system: system.name,
        quantity: entered.name,
        said: entered.said,
        entered: row.enteredText,
        trust: entered.trust,
      },
    );
  }
  await finishCorrections(work, system.id, codes);
  work.reevaluate(system.id);
  return { readings: built.map((one) => one.entered) };
}

/** Every entry with its quantity, instrument and value, and what is wrong with the others. */
function resolveInput(
  { readings, at }: ReadingsInput,
  catalog: InstrumentCatalog,
): { lines: ResolvedEntry[]; errors: FieldError[] } {
  const lines: ResolvedEntry[] = [];
  const errors: FieldError[] = [];
  for (const [i, entry] of readings.entries()) {
    const quantity = catalog.quantities.get(entry.quantityCode);
    const again = readings.findIndex((one) => one.quantityCode === entry.quantityCode) < i;
    const line =
      quantity === undefined
        ? `There is no quantity called "${entry.quantityCode}".`
        : resolveEntry(entry, quantity, catalog, at);
    if (again)
      errors.push({
        field: entry.quantityCode,
        message: `${quantity?.name ?? 'It'} is there twice. Enter a repeat as a reading of its own.`,
      });
    else if (typeof line === 'string')
      errors.push({ field: entry.quantityCode, message: withQuantityName(line, quantity) });
    else if (line !== null) lines.push(line);
  }
  return { lines, errors };
}

/** The questions about implausible values whose entry does not say that it is sure, as errors of the form. */
function plausibilityErrors(
  lines: readonly ResolvedEntry[],
  at: Date,
  histories: ReadonlyMap<string, ReadingHistory>,
): FieldError[] {
  return lines.flatMap((line) => {
    const { entry, quantity, reading } = line;
    if (entry.sure) return [];
    const last = histories.get(quantity.code)?.past.at(-1) ?? null;
    const typed = { value: reading.entered, unit: reading.unit, measured: measurementOf(line, at) };
    const question = plausibilityQuestion(quantity, typed, last);
    return question === null
      ? []
      : [{ field: `${quantity.code}-sure`, message: `${quantity.name}: ${question}` }];
  });
}

function throwErrors(errors: FieldError[]): void {
  const [first] = errors;
  if (first !== undefined) throw new Refusal(first.message, { fields: errors });
}

/** One entry with its quantity, what it was measured with, and what its text means. */
export interface ResolvedEntry {
  entry: ReadingEntry;
  quantity: Quantity;
  instrument: Instrument;
  reading: ParsedValue;
}

/** One reading as it was saved; plain JSON, the answer of the API. */
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

/** A row of the table of readings. */
export type ReadingRow = Prisma.ReadingCreateManyInput & { id: string; enteredText: string; trust: Trust };

/** The entry resolved, null where it says that nothing was measured, or a message of what is wrong with it. */
export function resolveEntry(
  entry: ReadingEntry,
  quantity: Quantity,
  catalog: InstrumentCatalog,
  at: Date,
): ResolvedEntry | null | string {
  const instrument = resolveInstrument(catalog, entry, quantity, at);
  if ('refused' in instrument) return instrument.refused;
  const read = parseEntry(entry, quantity, instrument.method);
  if (!read.ok) return read.message;
  return read.reading === null ? null : { entry, quantity, instrument, reading: read.reading };
}

/** The message with the quantity's name, so that a list of several can be told apart. */
export function withQuantityName(message: string, quantity: Quantity | undefined): string {
  if (quantity === undefined || message.toLowerCase().includes(quantity.name.toLowerCase())) return message;
  return `${quantity.name}: ${message}`;
}

/** The entry as the rules of trust see it. */
export function measurementOf({ reading, instrument }: ResolvedEntry, at: Date): MeasuredReading {
  const { value, below, above, uncertainty } = reading;
  const { method, kitId, kitOpenedAt } = instrument;
  const methodId = method?.id ?? null;
  return { at, value, below, above, uncertainty, kitId, methodId, kitOpenedAt, probe: isProbe(method) };
}

const noHistory: ReadingHistory = {
  past: [],
  pending: [],
  later: [],
  band: { low: null, high: null },
  expectedChange: 0,
  doubted: [],
  stopped: [],
};

/** The row of an entry, how far it is trusted, and how it is answered. */
export function buildReadingRow(
  work: Pick<Work, 'accountId' | 'accessKeyId' | 'now'>,
  input: { systemId: string; at: Date; note?: string | undefined },
  line: ResolvedEntry,
  history: ReadingHistory = noHistory,
): { row: ReadingRow; verdict: Verdict; entered: EnteredReading } {
  const { entry, quantity, reading } = line;
  const measured = measurementOf(line, input.at);
  const verdict = holdBackImplausible(work, line, judgeReading(measured, { quantity, ...history }), history);
  const row: ReadingRow = {
    id: uuidv7(),
    systemId: input.systemId,
    quantityCode: quantity.code,
    methodId: measured.methodId,
    kitId: measured.kitId,
    at: input.at,
    value: reading.value,
    belowDetection: reading.below,
    aboveScale: reading.above,
    uncertainty: reading.uncertainty,
    enteredText: entry.text.trim(),
    enteredUnit: reading.unit,
    factor: reading.factor,
    trust: verdict.trust,
    trustReason: verdict.reason,
    settledById: verdict.settledBy,
    note: entry.note || input.note || '',
    batch: entry.batch ?? '',
    accountId: work.accountId,
    accessKeyId: work.accessKeyId,
    createdAt: work.now,
  };
  const entered: EnteredReading = {
    id: row.id,
    quantityCode: quantity.code,
    name: quantity.name,
    said: sayReading(quantity, reading),
    trust: verdict.trust,
    reason: verdict.reason,
    advice: adviceOn(verdict, quantity, measured, history),
    caution: resolutionCaution(quantity, measured, history.band) ?? '',
  };
  return { row, verdict, entered };
}

/** What settles a reading that is unconfirmed; a probe without a vote settles nothing. '' for others. */
function adviceOn(
  { trust }: Verdict,
  quantity: Quantity,
  measured: MeasuredReading,
  history: ReadingHistory,
): string {
  if (trust !== 'unconfirmed') return '';
  return doubtedProbe(measured, history) === undefined
    ? repeatAdvice(quantity, measured)
    : 'Test by hand, and go by that until the probe is checked.';
}

/** An implausible value of an instrument waits for a second reading, since nobody could be asked about it. */
function holdBackImplausible(
  work: Pick<Work, 'accessKeyId'>,
  line: ResolvedEntry,
  verdict: Verdict,
  history: ReadingHistory,
): Verdict {
  if (work.accessKeyId === null || verdict.trust !== 'plain') return verdict;
  const { entered, unit } = line.reading;
  const measured = measurementOf(line, new Date(0));
  const question = plausibilityQuestion(
    line.quantity,
    { value: entered, unit, measured },
    history.past.at(-1) ?? null,
  );
  return question === null ? verdict : { ...verdict, trust: 'unconfirmed', reason: question };
}

/** Confirms or refutes readings that waited, all in one statement. */
export async function settleReadings(
  work: Work,
  settled: readonly { id: string; trust: 'confirmed' | 'refuted'; reason: string; by: string }[],
): Promise<void> {
  if (settled.length === 0) return;
  await work.tx.$executeRaw`
    UPDATE reading SET trust = settled.trust::"Trust", trust_reason = trim(reading.trust_reason || ' ' || settled.reason), settled_by_id = settled.by::uuid
      FROM unnest(${settled.map((one) => one.id)}::text[], ${settled.map((one) => one.trust)}::text[],
                  ${settled.map((one) => one.reason)}::text[], ${settled.map((one) => one.by)}::text[]) AS settled(id, trust, reason, by)
     WHERE reading.id = settled.id::uuid AND reading.trust = 'unconfirmed'`;
  for (const { id, trust, reason } of settled)
    work.record(`reading.${trust}`, { type: 'reading', id }, { reason });
}
