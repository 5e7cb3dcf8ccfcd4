import type { Lot } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { lockLot, lotSubject, piecesAt, touchSystemOf } from '../base/lot-lock.ts';
import { measureLot } from '../growth/measurements.ts';
import { copyIdentification } from '../lots/identifications.ts';
import { refuseMoreThan, writeLedger } from '../lots/ledger.ts';
import { makeLot } from '../lots/lots.ts';
import { clearPlace, moveLot } from '../places/placements.ts';
import { passCut } from './cut-gate.ts';

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
  /** Which saw or blade, as the farm calls it; '' where it is not said. */
  tool?: string;
  /** Who cut it; '' where it is who enters it. */
  cutBy?: string;
  /** Minutes out of the water; null: not said. */
  minutesOut?: number | null;
  /** What the pieces were dipped in; '' where it is not said. */
  dip?: string;
  /** Of a new piece; null when not measured. */
  sizeMm: number | null;
  note: string;
  slotIds: readonly string[];
  /** Why it is cut although something speaks against it; '' where it is not said. */
  despite?: string;
}

/** The fields that a lot takes over from the lot its pieces were of. */
export function inheritedFields({ siteId, kindId, tradeName, id, origin, permit }: Lot) {
  return { siteId, kindId, tradeName, parentId: id, origin, permit };
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
 * @throws Refusal 404; 409 when there was nothing to cut, not that many to cut up, or something speaks against it and no
 * reason is given
 */
export async function cutLot(work: Work, input: NewCut): Promise<{ id: string; code: string }> {
  const {
    pieces,
    usedUp,
    at,
    method,
    sizeMm,
    note,
    tool = '',
    cutBy = '',
    minutesOut = null,
    dip = '',
  } = input;
  const mother = await lockLot(work.tx, input.fromLotId);
  refuseMoreThan(await piecesAt(work.tx, mother.id, at), Math.max(1, usedUp), mother.code);
  const { despite = '', slotIds } = input;
  const gated = [{ lotId: mother.id, code: mother.code }];
  const against = (await passCut(work, gated, { at, sizeMm, despite })).get(mother.id) ?? [];
  const row = { ...inheritedFields(mother), isMother: false, sizeMm, arrivedAt: at, note: '' };
  const made = await makeLot(work.tx, row);
  const cut = await work.tx.cut.create({
    data: {
      ...{ fromLotId: mother.id, intoLotId: made.id, at, pieces, note, accountId: work.accountId },
      ...{ method, tool, cutBy, minutesOut, dip, against, despite: against.length > 0 ? despite : '' },
    },
  });
  const line = { at, note: '', cutId: cut.id };
  await writeLedger(work, { ...line, lotId: made.id, change: pieces, reason: 'cut_in' });
  if (usedUp > 0) await writeLedger(work, { ...line, lotId: mother.id, change: -usedUp, reason: 'cut_out' });
  if (sizeMm !== null)
    await measureLot(work, { lotId: made.id, at, measure: 'length_mm', sizes: [sizeMm], note: '' });
  await copyIdentification(work, mother, made.id);
  await touchSystemOf(work, mother.id);
  if (mother.pieces === usedUp) await clearPlace(work, mother.id, at);
  await placeLot(work, made.id, { slotIds, at, despite }, 'New cut');
  const how = { method, tool, cutBy, minutesOut, dip };
  const asked = against.length === 0 ? {} : { against: against.join(' '), reason: despite };
  const details = { from: mother.code, into: made.code, pieces, usedUp, ...how, ...asked, at };
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

/** Ways to cut that are offered before the farm has named its own (common practice). */
const METHODS = ['Band saw', 'Diamond saw', 'Bone cutter', 'Blade', 'By hand'];

/** Words to choose from when a cut is entered: what was typed at this site before. One query. */
export async function cutWords(
  reader: SqlReader,
  siteId: string,
): Promise<{ methods: string[]; tools: string[]; people: string[]; dips: string[] }> {
  const { rows } = await reader.query<{ word: string; of: string }>(
    `SELECT DISTINCT word, "of" FROM cut JOIN lot ON lot.id = cut.from_lot_id
       CROSS JOIN LATERAL (VALUES (method, 'methods'), (tool, 'tools'), (cut_by, 'people'), (dip, 'dips')) AS said (word, "of")
      WHERE lot.site_id = $1::uuid AND word <> '' ORDER BY word`,
    [siteId],
  );
  const of = (what: string) => rows.filter((row) => row.of === what).map(({ word }) => word);
  const methods = [...new Set([...of('methods'), ...METHODS])];
  return { methods, tools: of('tools'), people: of('people'), dips: of('dips') };
}
