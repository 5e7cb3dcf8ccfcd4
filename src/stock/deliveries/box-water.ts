import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { displayUnitNow } from '../../platform/units/reader-quantities.ts';
import { unitText } from '../../platform/units/units.ts';
import { optionalNumber } from '../../platform/web/fields.ts';
import { canonicalUnit, convert } from '../../science/units.ts';

/** The units in which whoever reads has the water of a box. */
export interface BoxUnits {
  temperature: string;
  salinity: string;
}

/** The units of whoever reads. One query. */
export async function boxUnits(reader: SqlReader): Promise<BoxUnits> {
  const { rows } = await reader.query<{ code: keyof BoxUnits; unit: string }>(
    `SELECT code, display_unit AS unit FROM quantity WHERE code IN ('temperature', 'salinity')`,
  );
  const unitOf = (code: keyof BoxUnits) =>
    displayUnitNow(code, rows.find((row) => row.code === code)?.unit ?? canonicalUnit(code));
  return { temperature: unitOf('temperature'), salinity: unitOf('salinity') };
}

/** A field for a level that may be left empty, typed in a unit; the value is canonical, and so is its range. */
export const optionalLevel = (
  code: keyof BoxUnits,
  unit: string,
  { what, low, high }: { what: string; low: number; high: number },
) => {
  const inUnit = (value: number) => Number(convert(code, value, canonicalUnit(code), unit).toFixed(3));
  return optionalNumber({ what, low: inUnit(low), high: inUnit(high), unit: unitText(unit) }).transform(
    (typed): number | null => (typed === null ? null : convert(code, typed, unit, canonicalUnit(code))),
  );
};
