import { z } from 'zod';
import { takeBackOff } from '../../farm/switched-off/switched-off.ts';
import type { Work } from '../../platform/change.ts';
import type { JournalSubject } from '../../platform/journal-kinds.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { text } from '../../platform/web/fields.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { voidCalibration, voidDoserPlan } from '../dosers/dosers.ts';
import { bringBackDayOf, findKeptReading } from '../probe-days/unpacked.ts';
import { say, sayReading } from '../quantities/quantities.ts';
import { voidReading } from '../readings/amendments.ts';

export const voidingSchema = z.object({ reason: text('why it does not count', 500) });

/** The kinds of entry that can be voided, by the word in their address. */
export const voidableKinds = [
  'readings',
  'water-changes',
  'doses',
  'feedings',
  'checks',
  'pairs',
  'doser-plans',
  'doser-calibrations',
] as const;
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
  /** What its lines in the journal are about, and which of them says that it was voided. */
  subject: Subject;
  voided: Voided;
  /** The noun under which its person is corrected; none where no name stands beside it. */
  signed: Noun | null;
}

type Noun = 'reading' | 'water_change' | 'dose' | 'feeding' | 'check_reading' | 'kit_pair';
type Voided = `${Noun}.voided` | 'doser.plan_voided' | 'doser.calibration_voided';
type Subject = JournalSubject<Voided>;

const entryOf = (type: Noun, id: string) => ({
  subject: { type, id },
  voided: `${type}.voided` as const,
  signed: type,
});

const finders: Record<VoidableKind, (db: Reader, id: string) => Promise<Voidable | null>> = {
  async readings(db, id) {
    const row = await findKeptReading(db, id);
    if (row === null) return null;
    const quantity = await db.quantity.findUniqueOrThrow({ where: { code: row.quantityCode } });
    const what = `${quantity.name} ${sayReading(quantity, { ...row, below: row.belowDetection, above: row.aboveScale })}`;
    return {
      ...row,
      what,
      home: `/water/systems/${row.systemId}?quantity=${row.quantityCode}`,
      ...entryOf('reading', id),
    };
  },
  async 'water-changes'(db, id) {
    const row = await db.waterChange.findUnique({ where: { id } });
    if (row === null) return null;
    const home = `/water/systems/${row.systemId}/water-changes`;
    return { ...row, what: `Water change of ${litres(row.volumeL)}`, home, ...entryOf('water_change', id) };
  },
  async doses(db, id) {
    const row = await db.dose.findUnique({ where: { id } });
    if (row === null) return null;
    const what = `Dose of ${numberWords(row.amount)} ${row.unit} ${row.substance}`;
    return { ...row, what, home: `/water/systems/${row.systemId}/doses`, ...entryOf('dose', id) };
  },
  async feedings(db, id) {
    const row = await db.feeding.findUnique({ where: { id } });
    if (row === null) return null;
    return {
      ...row,
      what: `Feeding of ${row.food}`,
      home: `/water/systems/${row.systemId}/feedings`,
      ...entryOf('feeding', id),
    };
  },
  async checks(db, id) {
    const row = await db.checkReading.findUnique({
      where: { id },
      include: { kit: { include: { method: { include: { quantity: true } } } } },
    });
    if (row === null) return null;
    const what = `Check of ${row.kit.label}: ${say(row.kit.method.quantity, row.value)}`;
    return {
      ...row,
      what,
      home: `/water/kits/${row.kitId}`,
      systemId: null,
      ...entryOf('check_reading', id),
    };
  },
  async pairs(db, id) {
    const row = await db.kitPair.findUnique({
      where: { id },
      include: { oldKit: true, kit: { include: { method: { include: { quantity: true } } } } },
    });
    if (row === null) return null;
    const { quantity } = row.kit.method;
    const what = `Pair of ${row.oldKit.label} and ${row.kit.label}: ${say(quantity, row.oldValue)} and ${say(quantity, row.value)}`;
    return { ...row, what, home: `/water/kits/${row.kitId}`, systemId: null, ...entryOf('kit_pair', id) };
  },
  async 'doser-plans'(db, id) {
    const row = await db.doserPlan.findUnique({ where: { id }, include: { equipment: true } });
    if (row === null) return null;
    const { equipment, perDay, unit, substance } = row;
    const what = `${equipment.name} set to give ${numberWords(perDay)} ${unit} a day of ${substance}`;
    return { ...row, ...ofDoser(equipment), what, at: row.fromAt, voided: 'doser.plan_voided' };
  },
  async 'doser-calibrations'(db, id) {
    const row = await db.doserCalibration.findUnique({ where: { id }, include: { equipment: true } });
    if (row === null) return null;
    const { equipment, ml, runs, per } = row;
    const what = `${equipment.name} gave ${numberWords(ml)} mL in ${plural(runs, per, `${per}s`)}`;
    return { ...row, ...ofDoser(equipment), what, voided: 'doser.calibration_voided' };
  },
};

const ofDoser = ({ id, systemId }: { id: string; systemId: string }) => ({
  home: `/water/dosers/${id}`,
  systemId,
  subject: { type: 'equipment' as const, id },
  signed: null,
});

/** @throws Refusal 404 */
export async function findVoidable(db: Reader, kind: VoidableKind, id: string): Promise<Voidable> {
  const found = await finders[kind](db, id);
  if (found === null) throw notFound('This entry');
  return found;
}

/** Voids an entry with a reason: it stays in view, struck through, and no longer counts. @throws Refusal 404; 409 when it is voided */
export async function voidEntry(
  work: Work,
  kind: VoidableKind,
  id: string,
  reason: string,
): Promise<{ home: string; what: string }> {
  const { what, home, systemId, subject, voided, voidedAt } = await findVoidable(work.tx, kind, id);
  if (voidedAt !== null) throw new Refusal('This entry is voided already.', { status: 409 });
  await setVoided(work, kind, id, reason);
  work.record(voided, subject, { what, reason });
  if (systemId !== null) work.reevaluate(systemId);
  return { home, what };
}

async function setVoided(work: Work, kind: VoidableKind, id: string, voidReason: string): Promise<unknown> {
  const change = { where: { id }, data: { voidedAt: work.now, voidReason } };
  switch (kind) {
    case 'readings':
      await bringBackDayOf(work, id);
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
    case 'doser-plans':
      return voidDoserPlan(work, id, voidReason);
    case 'doser-calibrations':
      return voidCalibration(work, id, voidReason);
  }
}
