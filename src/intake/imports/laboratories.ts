import { uuidv7 } from 'uuidv7';
import type { Work } from '../../platform/change.ts';
import { addLaboratoryMethods } from '../../water/kits/methods.ts';
import type { ParsedLine } from '../file/lines.rules.ts';

/**
 * Gives each laboratory that is new to the farm a method of its own for every quantity it reports, so that its readings
 * stay in a line of their own.
 * @returns the new methods' ids by "<quantity> <laboratory>"
 */
export async function addLaboratories(
  work: Work,
  parsed: readonly ParsedLine[],
): Promise<ReadonlyMap<string, string>> {
  const wanted = new Map<string, ParsedLine>();
  for (const one of parsed) {
    const { methodId, laboratory } = one.instrument;
    const key = `${one.quantity.code} ${laboratory}`;
    if (methodId === null && laboratory !== '' && !wanted.has(key)) wanted.set(key, one);
  }
  if (wanted.size === 0) return new Map();
  const rows = [...wanted].map(([key, one]) => ({ key, row: methodRow(one) }));
  await addLaboratoryMethods(
    work,
    rows.map(({ row }) => row),
  );
  return new Map(rows.map(({ key, row }) => [key, row.id]));
}

function methodRow({ quantity, instrument: { laboratory, figures } }: ParsedLine) {
  return {
    id: uuidv7(),
    quantityCode: quantity.code,
    name: `laboratory ${laboratory}`,
    laboratory,
    absolute: figures?.absolute ?? 0,
    relative: figures?.relative ?? 0,
    note: 'Added with a report of this laboratory; its uncertainty is that of laboratories in general (own choice). Put in what it states.',
  };
}
