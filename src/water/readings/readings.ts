import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { FieldError } from '../../platform/views/page.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { finishCorrections } from '../corrections/completion.ts';
import type { Entry } from '../entry/entry.rules.ts';
import { doubtOf } from '../entry/plausibility.rules.ts';
import { type Bench, benchOf } from '../kits/instruments.ts';
import { findOpenWater } from '../systems/systems.ts';
import { type History, historiesAt } from '../trust/history.ts';
import {
  type EnteredReading,
  keep,
  type Line,
  measurement,
  naming,
  readLine,
  settleReadings,
} from './reading-row.ts';

export type { Entry } from '../entry/entry.rules.ts';
export type { EnteredReading } from './reading-row.ts';
export { type LatestReading, latestReadings, readingSeries, type SeriesReading } from './series.ts';

/** What was read in one system at one time. */
export interface EnteredReadings {
  systemId: string;
  at: Date;
  note?: string | undefined;
  readings: readonly Entry[];
}

/**
 * Keeps readings of one system at one time: as entered and in the canonical unit, with the method's uncertainty and
 * how far each is relied on; settles earlier readings that waited for a second one. An instrument is not asked whether
 * it is sure: what it posts in doubt is kept unconfirmed.
 * @throws Refusal naming each refused quantity as the field; a value in doubt is refused at "<quantity>-sure" until
 *   its entry says `sure`
 */
export async function enterReadings(
  work: Work,
  input: EnteredReadings,
): Promise<{ readings: EnteredReading[] }> {
  const system = await findOpenWater(work.tx, input.systemId);
  if (input.at > new Date(work.now.getTime() + 5 * minuteMs))
    throw new Refusal('That is in the future. Enter when it was read.', { field: 'at' });
  const bench = await benchOf(
    work.tx,
    input.readings.map((entry) => entry.quantityCode),
  );
  const { lines, errors } = readLines(input, bench);
  const codes = lines.map((line) => line.quantity.code);
  const histories = await historiesAt(work.tx, system.id, codes, input.at);
  refuse([...errors, ...(work.machine === null ? doubts(lines, input.at, histories) : [])]);
  if (lines.length === 0) {
    throw new Refusal('Enter at least one reading.', { field: input.readings[0]?.quantityCode ?? '' });
  }
  const kept = lines.map((line) => keep(work, input, line, histories.get(line.quantity.code)));
  await work.tx.reading.createMany({ data: kept.map((one) => one.row) });
  await settleReadings(
    work,
    kept.flatMap((one) => one.verdict.settles.map((settled) => ({ ...settled, by: one.row.id }))),
  );
  for (const { row, told } of kept) {
    work.note(
      'reading.entered',
      { type: 'reading', id: row.id },
      {
        system: system.name,
        quantity: told.name,
        said: told.said,
        entered: row.enteredText,
        trust: told.trust,
      },
    );
  }
  await finishCorrections(work, system.id, codes);
  work.touch(system.id);
  return { readings: kept.map((one) => one.told) };
}

/** Every line read, and what is wrong with the others. */
function readLines({ readings, at }: EnteredReadings, bench: Bench): { lines: Line[]; errors: FieldError[] } {
  const lines: Line[] = [];
  const errors: FieldError[] = [];
  for (const [i, entry] of readings.entries()) {
    const quantity = bench.quantities.get(entry.quantityCode);
    const again = readings.findIndex((one) => one.quantityCode === entry.quantityCode) < i;
    const line =
      quantity === undefined
        ? `There is no quantity called "${entry.quantityCode}".`
        : readLine(entry, quantity, bench, at);
    if (again)
      errors.push({
        field: entry.quantityCode,
        message: `${quantity?.name ?? 'It'} is there twice. Enter a repeat as a reading of its own.`,
      });
    else if (typeof line === 'string')
      errors.push({ field: entry.quantityCode, message: naming(line, quantity) });
    else if (line !== null) lines.push(line);
  }
  return { lines, errors };
}

/** What is asked of the lines whose entry does not say that it is sure. */
function doubts(lines: readonly Line[], at: Date, histories: ReadonlyMap<string, History>): FieldError[] {
  return lines.flatMap((line) => {
    const { entry, quantity, reading } = line;
    if (entry.sure) return [];
    const last = histories.get(quantity.code)?.past.at(-1) ?? null;
    const typed = { value: reading.entered, unit: reading.unit, measured: measurement(line, at) };
    const doubt = doubtOf(quantity, typed, last);
    return doubt === null ? [] : [{ field: `${quantity.code}-sure`, message: `${quantity.name}: ${doubt}` }];
  });
}

function refuse(errors: FieldError[]): void {
  const [first] = errors;
  if (first !== undefined) throw new Refusal(first.message, { fields: errors });
}
