import { randomInt } from 'node:crypto';
import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { type Random, seededRandom } from '../../science/statistics/random.ts';
import { makeCode, readCode } from '../base/codes.ts';
import { lockLot, lotSubject } from '../base/lot-lock.ts';
import { kindMeant } from '../kinds/kinds.ts';
import { moveLot } from '../places/placements.ts';
import { identifyLot, type Opinion } from './identifications.ts';
import { writeLedger } from './ledger.ts';

/** A lot to be taken in. */
export interface NewLot {
  siteId: string;
  /** The kind's id, or any of its names (`kindMeant`). */
  kindId: string;
  /** The farm's own code for it; "" or left out: it has none. */
  ownCode?: string;
  /** What it is sold as. */
  tradeName?: string;
  /** Of one piece, in minor units of the site's currency. */
  priceMinor?: number | null;
  /** How many pieces came. */
  pieces: number;
  arrivedAt: Date;
  origin: string;
  /** Permit number and source code, as the owner records them. */
  permit: string;
  sizeMm: number | null;
  isMother: boolean;
  note: string;
  identification: Opinion | null;
  /** Slots of one rack it is put into at once; empty leaves it unplaced. */
  slotIds: readonly string[];
}

/**
 * Takes a lot into the stock: its row, the pieces received, its identification and, where slots are given, its placement.
 * @throws Refusal 422 for an unknown kind; what moveLot refuses
 */
export async function addLot(work: Work, input: NewLot): Promise<{ id: string; code: string }> {
  const { pieces, identification, slotIds, ...row } = input;
  const kind = await kindMeant(work.tx, row.kindId);
  const { id, code } = await makeLot(work.tx, { ...row, kindId: kind.id, createdAt: work.now });
  const said = { kind: kind.name, pieces, origin: row.origin, ownCode: row.ownCode ?? '' };
  work.record('lot.added', lotSubject(id), { code, ...said });
  const at = row.arrivedAt;
  await writeLedger(work, { lotId: id, at, change: pieces, reason: 'received', note: '' });
  if (identification !== null) await identifyLot(work, id, identification);
  if (slotIds.length > 0) await moveLot(work, { lotId: id, slotIds, at, reason: 'Taken in' });
  return { id, code };
}

/** A change of a lot's details; `version` is the one the form was drawn with. */
export interface LotEdit {
  kindId: string;
  ownCode: string;
  tradeName: string;
  priceMinor: number | null;
  sizeMm: number | null;
  isMother: boolean;
  origin: string;
  permit: string;
  note: string;
  /** It stays where it stands when moves are planned. */
  staysPut: boolean;
  /** The last day it is kept apart; null: not kept apart. */
  quarantineUntil: Date | null;
  version: number;
}

/**
 * Changes the details of a lot. The journal keeps what they were.
 * @throws Refusal 404; 409 when somebody changed it meanwhile
 */
export async function editLot(work: Work, id: string, edit: LotEdit): Promise<void> {
  const before = await lockLot(work.tx, id);
  const { version, ...data } = edit;
  if (before.version !== version) throw staleEdit('this lot');
  data.kindId = (await kindMeant(work.tx, edit.kindId)).id;
  await work.tx.lot.update({ where: { id }, data: { ...data, version: { increment: 1 } } });
  const { kindId, ownCode, tradeName, priceMinor, sizeMm, isMother, origin, permit, note } = before;
  const { staysPut, quarantineUntil } = before;
  const names = { kindId, ownCode, tradeName, priceMinor };
  const was = { ...names, sizeMm, isMother, origin, permit, note, staysPut, quarantineUntil };
  work.record('lot.changed', lotSubject(id), { code: before.code, before: was, after: data });
}

const withKind = { kind: { include: { parent: true } }, parent: true, cutInto: true } as const;

/** A lot with its kind, the kind's group and where it was cut from. */
export type FoundLot = Prisma.LotGetPayload<{ include: typeof withKind }>;

const isId = /^[0-9a-f]{8}-([0-9a-f]{4}-){3}[0-9a-f]{12}$/i;

/**
 * A lot of a site by its id, or by its code or own code as people type it; of any site where none is named.
 * @throws Refusal 404, saying what is wrong with the code when it is none
 */
export async function findLot(db: Reader, idOrCode: string, siteId?: string): Promise<FoundLot> {
  const read = isId.test(idOrCode) ? null : readCode(idOrCode);
  const where = read === null ? { id: idOrCode } : read.ok ? { code: read.code } : null;
  const lot = where === null ? null : await db.lot.findUnique({ where, include: withKind });
  const isHere = (one: { siteId: string }) => siteId === undefined || one.siteId === siteId;
  if (lot !== null && isHere(lot)) return lot;
  const own = read === null ? undefined : (await lotsOfOwnCode(db, idOrCode)).find(isHere);
  if (own !== undefined) return db.lot.findUniqueOrThrow({ where: { id: own.id }, include: withKind });
  if (read !== null && !read.ok) throw new Refusal(read.message, { status: 404 });
  throw notFound(read === null ? 'This lot' : `The lot ${read.code}`);
}

/** The lots that have, or had, this own code, whatever its case and spaces; the one that has pieces first. */
function lotsOfOwnCode(db: Reader, typed: string): Promise<{ id: string; siteId: string; code: string }[]> {
  return db.$queryRaw`
    SELECT id, site_id AS "siteId", code FROM lot WHERE own_code <> '' AND own_code_key(own_code) = own_code_key(${typed})
     ORDER BY pieces > 0 DESC, arrived_at DESC LIMIT 10`;
}

/** The code of a lot as it is written, when somebody typed its code or its own code in full; else null. */
export async function existingCode(db: Reader, siteId: string, typed: string): Promise<string | null> {
  const read = readCode(typed);
  const lot = read.ok
    ? await db.lot.findUnique({ where: { code: read.code }, select: { code: true } })
    : null;
  if (lot !== null) return lot.code;
  const own = await lotsOfOwnCode(db, typed);
  return own.find((one) => one.siteId === siteId)?.code ?? null;
}

/** The columns of a new lot besides its code. */
export type NewLotRow = Pick<
  Prisma.LotUncheckedCreateInput,
  | 'siteId'
  | 'kindId'
  | 'ownCode'
  | 'tradeName'
  | 'priceMinor'
  | 'parentId'
  | 'isMother'
  | 'origin'
  | 'permit'
  | 'sizeMm'
  | 'arrivedAt'
  | 'note'
  | 'createdAt'
>;

/** How many codes are tried at once: with half of all codes taken, one try in a billion finds no free one (0.5^30). */
const CODES_TRIED = 30;

async function freeCode(tx: Tx, random: Random): Promise<string> {
  const codes = Array.from({ length: CODES_TRIED }, () => makeCode(random));
  const taken = await tx.lot.findMany({ where: { code: { in: codes } }, select: { code: true } });
  const free = codes.find((code) => !taken.some((lot) => lot.code === code));
  if (free === undefined) throw new Error('no free lot code');
  return free;
}

/** Makes the row of a lot under a new code. Its pieces come by its ledger ({@link writeLedger}). */
export async function makeLot(
  tx: Tx,
  lot: NewLotRow,
  random: Random = seededRandom(randomInt(2 ** 48 - 1)),
): Promise<{ id: string; code: string }> {
  const code = await freeCode(tx, random);
  const { id } = await tx.lot.create({ data: { ...lot, code } });
  return { id, code };
}
