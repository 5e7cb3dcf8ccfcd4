import { readUnit } from '../../science/units.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import type { DisplayQuantity, Quantity } from '../../water/quantities/quantities.ts';

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

type ReportedQuantity = Pick<DisplayQuantity, 'code' | 'canonicalUnit'> & Pick<Quantity, 'name'>;

/** A unit as it is reported: the unit of ours that it stands for, and what a number in it is in that; or why it is none. */
export type SenmlUnit = { unit: string; of: (value: number) => number } | { fault: string };

/** Units beyond the registry are read as everywhere. */
export function senmlUnit({ code, name, canonicalUnit }: ReportedQuantity, unit: string | null): SenmlUnit {
  const asIs = (value: number) => value;
  if (unit === null) return canonicalUnit === 'pH' ? { unit: 'pH', of: asIs } : { fault: 'states no unit' };
  const found = unitByRegistryName[unit];
  const read = readUnit(found?.unit ?? unit, code, canonicalUnit);
  if ('question' in read) return { fault: `"${unit}" is not a unit of ${nameInSentence(name)}` };
  // Twelve digits: more than any probe has, and none of the noise of a factor.
  const of = (value: number) => Number((found?.of(value) ?? value).toPrecision(12));
  return { unit: read.unit, of };
}

/** The same for many values: a unit is read once and not with each of them. */
export function senmlUnits(): typeof senmlUnit {
  const known = new Map<string, SenmlUnit>();
  return (quantity, unit) => {
    const key = JSON.stringify([quantity.code, unit]);
    const read = known.get(key) ?? senmlUnit(quantity, unit);
    known.set(key, read);
    return read;
  };
}
