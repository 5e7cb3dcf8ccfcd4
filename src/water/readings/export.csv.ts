import type pg from 'pg';
import { type CsvCell, csvText } from '../../platform/csv.ts';
import type { Reader } from '../../platform/service.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import { convertDifference } from '../../science/units.ts';
import { type BiasCorrection, biasCorrector } from '../kits/bias.ts';
import { farmValue, listQuantities, type Quantity } from '../quantities/quantities.ts';
import { type ReadingPlace, readingSlice, type SeriesReading } from './series.ts';

interface ExportQuestion {
  /** Readings of these, one after the other. */
  systems: readonly { id: string; name: string }[];
  /** One quantity; every one when empty. */
  code: string;
  from: Date;
  to: Date;
  timeZone: string;
}

/** The columns of a file of readings. */
export const readingHeads =
  'at,system,quantity,value,unit,below_detection,standard_uncertainty,entered_text,entered_unit,method,kit,by,trust,trust_reason,note,voided_at,void_reason,corrected_value,corrected_uncertainty,kit_bias,laboratory,batch,factor,hours_since_dose,entered_at'.split(
    ',',
  );

/** Readings read at a time for a file: own choice. */
const readingsAtOnce = 500;

/** Readings as a file that comes back in as it went out, in pieces. */
export async function* readingsCsv(
  service: { db: Reader; pool: pg.Pool },
  question: ExportQuestion,
): AsyncGenerator<string> {
  yield csvText([readingHeads]);
  const correct = biasCorrector(service.pool);
  for (let after: ReadingPlace | null = null; ; ) {
    const rows: PlacedCells[] = await readingRows(service, question, {
      after,
      limit: readingsAtOnce,
      correct,
    });
    yield csvText(rows.map(({ cells }) => cells));
    if (rows.length < readingsAtOnce) return;
    after = rows.at(-1)?.place ?? null;
  }
}

/** Which rows are read now, and by what those of kits that read wrong are corrected. */
interface Piece {
  /** A reading of the first system. */
  after: ReadingPlace | null;
  limit: number;
  correct: ReturnType<typeof biasCorrector>;
}

interface PlacedCells {
  place: ReadingPlace;
  cells: CsvCell[];
}

/** The same as rows with their places, system by system, quantity by quantity: the farm's units, times with their offset, nothing
 * left out, voided ones with their reason; readings of a kit that is known to read wrong as read, and corrected in columns of
 * their own. A fixed number of queries. */
export async function readingRows(
  { db, pool }: { db: Reader; pool: pg.Pool },
  { systems, code, from, to, timeZone }: ExportQuestion,
  { after, limit, correct }: Piece,
): Promise<PlacedCells[]> {
  const quantities = (await listQuantities(db)).filter((quantity) => code === '' || quantity.code === code);
  const all = systems.flatMap(({ id }) =>
    quantities.map((quantity) => ({ systemId: id, quantityCode: quantity.code })),
  );
  const first = all.findIndex(
    ({ systemId, quantityCode }) => systemId === after?.systemId && quantityCode === after.quantityCode,
  );
  const series = all.slice(Math.max(first, 0));
  const rows = await readingSlice(pool, { series, from, to, after, limit });
  const byCode = new Map(quantities.map((quantity) => [quantity.code, quantity]));
  const names = new Map(systems.map(({ id, name }) => [id, name]));
  const placed: PlacedCells[] = [];
  const breathe = yieldLoop();
  for (const reading of await correct(rows)) {
    const { systemId, quantityCode, at, id } = reading;
    const quantity = byCode.get(quantityCode);
    if (quantity === undefined) continue;
    const place = { systemId, quantityCode, at: at.toISOString(), id };
    placed.push({ place, cells: csvCells(reading, names.get(systemId) ?? '', quantity, timeZone) });
    await breathe();
  }
  return placed;
}

function csvCells(
  reading: SeriesReading & { corrected: BiasCorrection | null },
  system: string,
  quantity: Quantity,
  timeZone: string,
): CsvCell[] {
  const { value, unit } = farmValue(quantity, reading.value);
  const spread = convertDifference(
    quantity.code,
    reading.uncertainty,
    quantity.canonicalUnit,
    unit,
    reading.value,
  );
  const voided = reading.voidedAt === null ? null : isoTime(reading.voidedAt, timeZone);
  return [
    isoTime(reading.at, timeZone),
    system,
    reading.quantityCode,
    sixDigits(value),
    unit,
    reading.above ? 'above scale' : reading.below ? 'yes' : 'no',
    sixDigits(Math.abs(spread)),
    reading.enteredText,
    reading.enteredUnit,
    reading.method,
    reading.kit,
    reading.by,
    reading.trust,
    reading.trustReason,
    reading.note,
    voided,
    reading.voidReason,
    ...correctedCells(reading.corrected, quantity),
    reading.laboratory,
    reading.batch,
    reading.factor,
    reading.hoursSinceDose === null ? null : sixDigits(reading.hoursSinceDose),
    isoTime(reading.enteredAt, timeZone),
  ];
}

function correctedCells(corrected: BiasCorrection | null, quantity: Quantity): CsvCell[] {
  if (corrected === null) return [null, null, null];
  const { value, unit } = farmValue(quantity, corrected.value);
  const spread = convertDifference(
    quantity.code,
    corrected.uncertainty,
    quantity.canonicalUnit,
    unit,
    corrected.value,
  );
  return [sixDigits(value), sixDigits(Math.abs(spread)), sixDigits(corrected.bias)];
}

/** Six digits: more than any test has, and none of the noise of binary fractions. */
const sixDigits = (value: number) => Number(value.toPrecision(6));
