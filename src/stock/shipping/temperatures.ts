import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { displayUnitNow } from '../../platform/units/reader-quantities.ts';
import { unitText } from '../../platform/units/units.ts';
import { optionalNumber } from '../../platform/web/fields.ts';
import { inputNumber, numberWords } from '../../platform/words/numbers.ts';
import { convert } from '../../science/units.ts';

/** The unit in which whoever reads has temperatures: "degC" or "degF". One query. */
export async function temperatureUnit(reader: SqlReader): Promise<string> {
  const { rows } = await reader.query<{ unit: string }>(
    `SELECT display_unit AS unit FROM quantity WHERE code = 'temperature'`,
  );
  return displayUnitNow('temperature', rows[0]?.unit ?? 'degC');
}

/** How one unit writes degC: "16.5 °C", "61.7 °F". */
export const temperatureWords =
  (unit: string) =>
  (degC: number): string =>
    `${numberWords(convert('temperature', degC, 'degC', unit), 1)} ${unitText(unit)}`;

/** The same as it stands in an input; '' for none. */
export const inputTemperature = (unit: string, degC: number | null): string =>
  degC === null ? '' : inputNumber(convert('temperature', degC, 'degC', unit), 1);

/** A temperature typed in a unit, in degC; null where nothing was typed. The range is in degC. */
export const optionalTemperature = (what: string, low: number, high: number, unit: string) => {
  const inUnit = (degC: number) => Math.round(convert('temperature', degC, 'degC', unit));
  const range = { what, low: inUnit(low), high: inUnit(high), unit: unitText(unit) };
  return optionalNumber(range).transform((typed): number | null =>
    typed === null ? null : convert('temperature', typed, unit, 'degC'),
  );
};
