import type pg from 'pg';
import { type CsvCell, csvText } from '../../platform/csv.ts';
import type { Reader } from '../../platform/service.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import { convertDifference } from '../../science/units.ts';
import { type BiasCorrection, withBiasCorrection } from '../kits/bias.ts';
import { farmValue, listQuantities, type Quantity } from '../quantities/quantities.ts';
import { readingSeries, type SeriesReading } from './series.ts';

interface ExportQuestion {
  system: { id: string; name: string };
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

/** Readings as a file that comes back in as it went out. */
export const readingsCsv = async (...asked: Parameters<typeof readingRows>): Promise<string> =>
  csvText(await readingRows(...asked));

/** The same as rows, the head first: the farm's units, times with their offset, nothing left out, voided ones with their reason;
 * readings of a kit that is known to read wrong as read, and corrected in columns of their own. */
export async function readingRows(
  { db, pool }: { db: Reader; pool: pg.Pool },
  { system, code, from, to, timeZone }: ExportQuestion,
): Promise<CsvCell[][]> {
  const quantities = (await listQuantities(db)).filter((quantity) => code === '' || quantity.code === code);
  const codes = quantities.map((quantity) => quantity.code);
  const rows = await readingSeries(pool, {
    systemId: system.id,
    quantityCode: codes,
    from,
    to,
    withVoided: true,
  });
  const byCode = new Map(quantities.map((quantity) => [quantity.code, quantity]));
  const lines = (await withBiasCorrection(pool, rows)).flatMap((reading) => {
    const quantity = byCode.get(reading.quantityCode);
    return quantity === undefined ? [] : [csvCells(reading, system.name, quantity, timeZone)];
  });
  return [readingHeads, ...lines];
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
