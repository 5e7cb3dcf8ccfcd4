import { z } from 'zod';
import { keepBenchOrder } from '../../farm/systems/systems.ts';
import type { Work } from '../../platform/change.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { optionalNumber } from '../../platform/web/fields.ts';
import { findOpenWaterSystem } from '../systems/systems.ts';

/** The field of a quantity's place. */
export const orderField = (code: string): string => `${code}-place`;

/** Places as typed (1 first, equal ones as usual, empty below the others) to codes in their order. */
export const formOrderSchema = (codes: readonly string[]) =>
  z
    .object(
      Object.fromEntries(
        codes.map((code) => [orderField(code), optionalNumber({ what: 'the place', low: 0, high: 999 })]),
      ),
    )
    .transform((typed) => {
      const places = codes.map((code) => ({ code, place: typed[orderField(code)] ?? null }));
      return places
        .filter((one) => one.place !== null)
        .sort((a, b) => (a.place ?? 0) - (b.place ?? 0))
        .map((one) => one.code);
    });

/** The quantities that a system's own order names, first to last; empty where none was set. @throws Refusal 404 */
export async function formOrderOf(db: Reader, systemId: string): Promise<string[]> {
  const system = await db.system.findUnique({ where: { id: systemId }, select: { benchOrder: true } });
  if (system === null) throw notFound('This system');
  return system.benchOrder;
}

/** What a new order writes over. */
export const orderStanding = (systemId: string): Standing => ({
  what: 'this order',
  read: (reader) => formOrderOf(reader, systemId),
});

/** The quantities in a system's own order; those that it does not name follow as usual. */
export function inFormOrder<Q extends { code: string }>(
  quantities: readonly Q[],
  own: readonly string[],
): Q[] {
  const place = (code: string) => (own.includes(code) ? own.indexOf(code) : own.length);
  return [...quantities].sort((a, b) => place(a.code) - place(b.code));
}

/** Sets the order in which a system's quantities are tested; those not named follow as usual. @throws Refusal 404 */
export async function setFormOrder(work: Work, systemId: string, order: readonly string[]): Promise<void> {
  await findOpenWaterSystem(work.tx, systemId);
  await keepBenchOrder(work, systemId, order);
}
