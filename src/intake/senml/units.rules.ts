import { readUnit } from '../../science/units.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import type { Quantity } from '../../water/quantities/quantities.ts';

/** Units of the SenML registry (RFC 8428 table 6, RFC 8798) that say something of water, as units of ours. */
const unitByRegistryName: Readonly<Record<string, { unit: string; of: (value: number) => number }>> = {
  Cel: { unit: 'degC', of: (value) => value },
  K: { unit: 'degC', of: (value) => value - 273.15 },
  pH: { unit: 'pH', of: (value) => value },
  'S/m': { unit: 'mS/cm', of: (value) => value * 10 },
  V: { unit: 'mV', of: (value) => value * 1000 },
  mV: { unit: 'mV', of: (value) => value },
  'kg/m3': { unit: 'mg/L', of: (value) => value * 1000 },
};

/** A reported value in a unit of the quantity, or why it is none. Units beyond the registry are read as everywhere. */
export function senmlValue(
  quantity: Quantity,
  value: number,
  unit: string | null,
): { value: number; unit: string } | { fault: string } {
  if (unit === null) {
    if (quantity.canonicalUnit === 'pH') return { value, unit: 'pH' };
    return { fault: 'states no unit' };
  }
  const found = unitByRegistryName[unit];
  const read = readUnit(found?.unit ?? unit, quantity.code, quantity.canonicalUnit);
  if ('question' in read) return { fault: `"${unit}" is not a unit of ${nameInSentence(quantity.name)}` };
  // Twelve digits: more than any probe has, and none of the noise of a factor.
  return { value: Number((found?.of(value) ?? value).toPrecision(12)), unit: read.unit };
}
