import { z } from 'zod';
import { takeBackOff } from '../../farm/switched-off/switched-off.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { text } from '../../platform/web/fields.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { say, sayReading } from '../quantities/quantities.ts';
import { voidReading } from '../readings/amendments.ts';

export const voidingSchema = z.object({ reason: text('why it does not count', 500) });

/** The kinds of entry that can be voided, by the word in their address. */
export const voidableKinds = ['readings', 'water-changes', 'doses', 'feedings', 'checks', 'pairs'] as const;
export type VoidableKind = (typeof voidableKinds)[number];

/** An entry as the voiding page shows it. */
export interface Voidable {
  what: string;
  at: Date;
  voidedAt: Date | null;
  /** Where it stands in a list. */
  home: string;
  /** The system whose rules it may change; none for a kit's check. */
  systemId: string | null;
  nounType: 'reading' | 'water_change' | 'dose' | 'feeding' | 'check_reading' | 'kit_pair';
}

const finders: Record<VoidableKind, (db: Reader, id: string) => Promise<Voidable | null>> = {
  async readings(db, id) {
    const row = await db.reading.findUnique({ where: { id }, include: { quantity: true } });
    if (row === null) return null;
    const what = `${row.quantity.name} ${sayReading(row.quantity, { ...row, below: row.belowDetection, above: row.aboveScale })}`;
    return {
      ...row,
      what,
      home: `/water/systems/${row.systemId}?quantity=${row.quantityCode}`,
      nounType: 'reading',
    };
  },
  async 'water-changes'(db, id) {
    const row = await db.waterChange.findUnique({ where: { id } });
    if (row === null) return null;
    const home = `/water/systems/${row.systemId}/water-changes`;
    return { ...row, what: `Water change of ${litres(row.volumeL)}`, home, nounType: 'water_change' };
  },
  async doses(db, id) {
    const row = await db.dose.findUnique({ where: { id } });
    if (row === null) return null;
    const what = `Dose of ${numberWords(row.amount)} ${row.unit} ${row.substance}`;
    return { ...row, what, home: `/water/systems/${row.systemId}/doses`, nounType: 'dose' };
  },
  async feedings(db, id) {
    const row = await db.feeding.findUnique({ where: { id } });
    if (row === null) return null;
    return {
      ...row,
      what: `Feeding of ${row.food}`,
      home: `/water/systems/${row.systemId}/feedings`,
      nounType: 'feeding',
    };
  },
  async checks(db, id) {
    const row = await db.checkReading.findUnique({
      where: { id },
      include: { kit: { include: { method: { include: { quantity: true } } } } },
    });
    if (row === null) return null;
    const what = `Check of ${row.kit.label}: ${say(row.kit.method.quantity, row.value)}`;
    return { ...row, what, home: `/water/kits/${row.kitId}`, systemId: null, nounType: 'check_reading' };
  },
  async pairs(db, id) {
    const row = await db.kitPair.findUnique({
      where: { id },
      include: { oldKit: true, kit: { include: { method: { include: { quantity: true } } } } },
    });
    if (row === null) return null;
    const { quantity } = row.kit.method;
    const what = `Pair of ${row.oldKit.label} and ${row.kit.label}: ${say(quantity, row.oldValue)} and ${say(quantity, row.value)}`;
    return { ...row, what, home: `/water/kits/${row.kitId}`, systemId: null, nounType: 'kit_pair' };
  },
};

/** @throws Refusal 404 */
export async function findVoidable(db: Reader, kind: VoidableKind, id: string): Promise<Voidable> {
  const found = await finders[kind](db, id);
  if (found === null) throw notFound('This entry');
  return found;
}

/** Voids an entry with a reason: it stays in view, struck through, and counts no more. @throws Refusal 404; 409 when it is voided */
export async function voidEntry(
  work: Work,
  kind: VoidableKind,
  id: string,
  reason: string,
): Promise<{ home: string; what: string }> {
  const { what, home, systemId, nounType, voidedAt } = await findVoidable(work.tx, kind, id);
  if (voidedAt !== null) throw new Refusal('This entry is voided already.', { status: 409 });
  await setVoided(work, kind, id, reason);
  work.record(`${nounType}.voided`, { type: nounType, id }, { what, reason });
  if (systemId !== null) work.reevaluate(systemId);
  return { home, what };
}

async function setVoided(work: Work, kind: VoidableKind, id: string, voidReason: string): Promise<unknown> {
  const change = { where: { id }, data: { voidedAt: work.now, voidReason } };
  switch (kind) {
    case 'readings':
      return voidReading(work, id, voidReason);
    case 'water-changes':
      return work.tx.waterChange.update(change);
    case 'doses':
      return work.tx.dose.update(change);
    case 'feedings':
      await takeBackOff(work, id, voidReason);
      return work.tx.feeding.update(change);
    case 'checks':
      return work.tx.checkReading.update(change);
    case 'pairs':
      return work.tx.kitPair.update(change);
  }
}
