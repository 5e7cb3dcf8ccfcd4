import type { Lot } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { lockLot, lotSubject, piecesAt, touchSystemOf } from '../base/lot-lock.ts';
import { passGate } from '../pests/gate.ts';
import { clearPlace, moveLot } from '../places/placements.ts';
import { identifyLot, latestOpinion } from './identifications.ts';
import { refuseMoreThan, writeLedger } from './ledger.ts';
import { makeLot } from './lots.ts';

/** One cut of a lot. */
export interface NewCut {
  fromLotId: string;
  /** How many pieces were made. */
  pieces: number;
  /** How many of the mother's pieces were cut up whole; 0 when it only lost a part. */
  usedUp: number;
  at: Date;
  /** How: "Band saw". */
  method: string;
  /** Of a new piece; null when not measured. */
  sizeMm: number | null;
  note: string;
  slotIds: readonly string[];
  /** Why it is cut although its water is under watch for a pest; '' where it is not said. */
  despite?: string;
}

/** The fields that a lot takes over from the lot it was cut or split from. */
function inheritedFields({ siteId, kindId, tradeName, id, origin, permit }: Lot) {
  return { siteId, kindId, tradeName, parentId: id, origin, permit };
}

async function copyIdentification(work: Work, from: Lot, intoId: string): Promise<void> {
  const opinion = await latestOpinion(work.tx, from.id);
  if (opinion === null) return;
  const remarks = `Taken over from ${from.code}. ${opinion.identificationRemarks}`.trim();
  await identifyLot(work, intoId, { ...opinion, identificationRemarks: remarks });
}

async function placeLot(
  work: Work,
  lotId: string,
  place: Pick<NewSplit, 'slotIds' | 'at' | 'despite'>,
  reason: string,
) {
  if (place.slotIds.length > 0) await moveLot(work, { lotId, ...place, reason });
}

/**
 * Cuts a lot: the new pieces become a lot with the mother's kind, identification, origin and permit. The cut and the
 * ledgers of both lots are one change.
 * @throws Refusal 404; 409 when there was nothing to cut, or not that many to cut up
 */
export async function cutLot(work: Work, input: NewCut): Promise<{ id: string; code: string }> {
  const { pieces, usedUp, at, method, sizeMm, note } = input;
  const mother = await lockLot(work.tx, input.fromLotId);
  refuseMoreThan(await piecesAt(work.tx, mother.id, at), Math.max(1, usedUp), mother.code);
  const { despite = '', slotIds } = input;
  await passGate(work, 'cut', [{ lotId: mother.id, code: mother.code }], { despite });
  const row = { ...inheritedFields(mother), isMother: false, sizeMm, arrivedAt: at, note: '' };
  const made = await makeLot(work.tx, row);
  const cut = await work.tx.cut.create({
    data: { fromLotId: mother.id, intoLotId: made.id, at, pieces, method, note, accountId: work.accountId },
  });
  const line = { at, note: '', cutId: cut.id };
  await writeLedger(work, { ...line, lotId: made.id, change: pieces, reason: 'cut_in' });
  if (usedUp > 0) await writeLedger(work, { ...line, lotId: mother.id, change: -usedUp, reason: 'cut_out' });
  await copyIdentification(work, mother, made.id);
  await touchSystemOf(work, mother.id);
  if (mother.pieces === usedUp) await clearPlace(work, mother.id, at);
  await placeLot(work, made.id, { slotIds, at, despite }, 'New cut');
  const details = { from: mother.code, into: made.code, pieces, usedUp, method, at };
  work.record('cut.made', lotSubject(mother.id), details);
  work.record('lot.added', lotSubject(made.id), details);
  return made;
}

/** Pieces that become a lot of their own. */
export interface NewSplit {
  fromLotId: string;
  pieces: number;
  at: Date;
  note: string;
  slotIds: readonly string[];
  /** Why it goes to other water although its own is under watch for a pest; '' where it is not said. */
  despite?: string;
}

/**
 * Makes some pieces of a lot a lot of their own. The count of pieces stays the same in all.
 * @throws Refusal 404; 409 when there were not that many; 422 when none would stay
 */
export async function splitLot(work: Work, input: NewSplit): Promise<{ id: string; code: string }> {
  const { pieces, at, note } = input;
  const from = await lockLot(work.tx, input.fromLotId);
  refuseMoreThan(await piecesAt(work.tx, from.id, at), pieces, from.code);
  if (pieces === from.pieces) {
    throw new Refusal('That is all of them. Move the lot instead, or leave at least one piece in it.', {
      field: 'pieces',
    });
  }
  const { isMother, sizeMm, priceMinor, arrivedAt } = from;
  const same = { isMother, sizeMm, priceMinor, arrivedAt };
  const made = await makeLot(work.tx, { ...inheritedFields(from), ...same, note: '' });
  const line = { at, reason: 'split' } as const;
  const into = `Into ${made.code}. ${note}`.trim();
  const outOf = `Out of ${from.code}. ${note}`.trim();
  await writeLedger(work, { ...line, lotId: from.id, change: -pieces, note: into });
  await writeLedger(work, { ...line, lotId: made.id, change: pieces, note: outOf });
  await copyIdentification(work, from, made.id);
  await touchSystemOf(work, from.id);
  const { slotIds, despite = '' } = input;
  await placeLot(work, made.id, { slotIds, at, despite }, 'Split off');
  const details = { from: from.code, into: made.code, pieces, at };
  work.record('lot.split', lotSubject(from.id), details);
  work.record('lot.added', lotSubject(made.id), details);
  return made;
}
