import { z } from 'zod';
import { keepBenchOrder } from '../../farm/systems/systems.ts';
import type { Work } from '../../platform/change.ts';
import { optionalNumber } from '../../platform/web/fields.ts';
import { findOpenWater } from '../systems/systems.ts';

/** The field of a quantity's place. */
export const placeName = (code: string): string => `${code}-place`;

/** Places as typed (1 first, equal ones as usual, empty below the others) to codes in their order. */
export const benchOrderSchema = (codes: readonly string[]) =>
  z
    .object(
      Object.fromEntries(
        codes.map((code) => [placeName(code), optionalNumber({ what: 'the place', low: 0, high: 999 })]),
      ),
    )
    .transform((typed) => {
      const places = codes.map((code) => ({ code, place: typed[placeName(code)] ?? null }));
      return places
        .filter((one) => one.place !== null)
        .sort((a, b) => (a.place ?? 0) - (b.place ?? 0))
        .map((one) => one.code);
    });

/** Sets the order in which a system's quantities are tested; those not named follow as usual. @throws Refusal 404 */
export async function setBenchOrder(work: Work, systemId: string, order: readonly string[]): Promise<void> {
  await findOpenWater(work.tx, systemId);
  await keepBenchOrder(work, systemId, order);
}
