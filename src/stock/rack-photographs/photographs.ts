import { uuidv7 } from 'uuidv7';
import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import type { LotThen } from './lots-then.ts';
import type { ReadPhotograph } from './reading.ts';

/** A photograph of a rack that was read, to be kept. */
export interface NewRackPhotograph {
  /** A key that the sender made; without it one is made. */
  id?: string | undefined;
  rackId: string;
  siteId: string;
  takenAt: Date;
  sha256: string;
  lots: readonly LotThen[];
  read: ReadPhotograph;
}

/** The rack of a photograph that was kept under this key; null where none was. */
export async function rackOfPhotograph(db: Reader, id: string): Promise<string | null> {
  return (await db.rackPhotograph.findUnique({ where: { id }, select: { rackId: true } }))?.rackId ?? null;
}

/** The photograph with the same file that a rack has already; null where it has none. */
export async function sameFile(db: Reader, rackId: string, sha256: string): Promise<{ id: string } | null> {
  return db.rackPhotograph.findFirst({ where: { rackId, sha256, voidedAt: null }, select: { id: true } });
}

/**
 * Keeps a photograph of a rack: what was measured of each lot that stood on it then, its picture as a photo of the lot, and
 * the straightened rack. The same file twice changes nothing.
 * @returns its id
 */
export async function addRackPhotograph(work: Work, photograph: NewRackPhotograph): Promise<string> {
  const { rackId, takenAt, sha256, read, lots } = photograph;
  await work.tx.$executeRaw`SELECT FROM rack WHERE id = ${rackId}::uuid FOR UPDATE`;
  const there = await sameFile(work.tx, rackId, sha256);
  if (there !== null) {
    work.record('rack_photograph.sent_again', { type: 'rack', id: rackId }, { photograph: there.id });
    return there.id;
  }
  const { id } = await work.tx.rackPhotograph.create({
    select: { id: true },
    data: {
      ...(photograph.id === undefined ? {} : { id: photograph.id }),
      ...{ rackId, takenAt, sha256, createdAt: work.now, accountId: work.accountId },
      ...{ widthMm: read.rack.width, depthMm: read.rack.depth, cameraMm: read.cameraHeight },
      ...{ residualMm: read.residual, blurMm: read.blur, tiltDeg: read.tilt },
      ...{ straight: new Uint8Array(read.straight), straightBytes: read.straight.length },
      original: read.original === null ? null : new Uint8Array(read.original),
      originalBytes: read.original?.length ?? 0,
    },
  });
  await keepLots(work, id, photograph);
  await holdToRoom(work, photograph.siteId);
  await touchRack(work, rackId);
  const measured = read.lots.filter(({ measured }) => !('why' in measured)).length;
  work.record(
    'rack_photograph.added',
    { type: 'rack', id: rackId },
    { photograph: id, lots: lots.length, measured },
  );
  return id;
}

/** Has the system of a rack evaluated. */
async function touchRack(work: Work, id: string): Promise<void> {
  const rack = await work.tx.rack.findUniqueOrThrow({ where: { id }, select: { tank: true } });
  work.reevaluate(rack.tank.systemId);
}

async function keepLots(work: Work, photographId: string, { lots, read, takenAt }: NewRackPhotograph) {
  const slots = new Map(lots.map((lot) => [lot.id, lot.slots]));
  const photos: Prisma.PhotoCreateManyInput[] = [];
  const rows: Prisma.RackPhotographLotCreateManyInput[] = read.lots.map(({ id: lotId, measured }) => {
    const picture = read.pictures.get(lotId);
    const photoId = picture === undefined ? null : uuidv7();
    if (picture !== undefined && photoId !== null)
      photos.push({
        ...{ id: photoId, lotId, takenAt, width: picture.width, height: picture.height },
        ...{ image: new Uint8Array(picture.image), small: new Uint8Array(picture.small) },
        ...{ note: 'From a photograph of its rack', accountId: work.accountId, createdAt: work.now },
      });
    const about = { photographId, lotId, photoId, slots: slots.get(lotId) ?? '' };
    if ('why' in measured) return { ...about, leftOut: measured.why };
    const { whiteness, area, outlines } = measured;
    return {
      ...about,
      ...{ whiteness: whiteness.L, whitenessError: whiteness.uncertainty },
      ...{ greenRed: whiteness.a, blueYellow: whiteness.b },
      ...{ areaMm2: area.area, areaLowMm2: area.low, areaHighMm2: area.high },
      outline: outlines.map((outline) => outline.map(({ x, y }) => [tenths(x), tenths(y)])),
    };
  });
  await work.tx.photo.createMany({ data: photos });
  await work.tx.rackPhotographLot.createMany({ data: rows });
}

const tenths = (mm: number) => Math.round(mm * 10) / 10;

const roomOf = `
  SELECT coalesce(sum(straight_bytes) FILTER (WHERE straight IS NOT NULL), 0)::float8 AS straight,
         coalesce(sum(original_bytes) FILTER (WHERE original IS NOT NULL), 0)::float8 AS original, count(*)::int AS photographs
    FROM rack_photograph AS taken JOIN rack ON rack.id = taken.rack_id JOIN tank ON tank.id = rack.tank_id
    JOIN system ON system.id = tank.system_id WHERE system.site_id = $1::uuid`;

/** The room that photographs of a site's racks take, bytes. */
export async function roomTaken(
  sql: SqlReader,
  siteId: string,
): Promise<{ straight: number; original: number; photographs: number }> {
  const { rows } = await sql.query<{ straight: number; original: number; photographs: number }>(roomOf, [
    siteId,
  ]);
  return rows[0] ?? { straight: 0, original: 0, photographs: 0 };
}

const USUAL_MB = 2000;

/** What a site keeps of its photographs; the usual where nobody chose. */
export async function keepingOf(db: Reader, siteId: string) {
  const chosen = await db.rackPhotographKeeping.findUnique({ where: { siteId } });
  return chosen ?? { siteId, keepOriginals: false, mostMb: USUAL_MB, version: 0 };
}

/** Chooses what a site keeps of photographs of its racks. */
export async function chooseKeeping(
  work: Work,
  siteId: string,
  { keepOriginals, mostMb }: { keepOriginals: boolean; mostMb: number },
): Promise<void> {
  const { version: _, ...before } = await keepingOf(work.tx, siteId);
  await work.tx.rackPhotographKeeping.upsert({
    where: { siteId },
    create: { siteId, keepOriginals, mostMb },
    update: { keepOriginals, mostMb, version: { increment: 1 } },
  });
  await holdToRoom(work, siteId);
  work.record(
    'rack_photograph.keeping_chosen',
    { type: 'site', id: siteId },
    { before, after: { keepOriginals, mostMb } },
  );
}

/** Originals go first, then straightened racks, the oldest first, until what is left has room. Pictures of lots stay. */
const letGo = `
  WITH held AS (
    SELECT taken.id, taken.taken_at, kind.what, kind.bytes
      FROM rack_photograph AS taken JOIN rack ON rack.id = taken.rack_id JOIN tank ON tank.id = rack.tank_id
      JOIN system ON system.id = tank.system_id
      CROSS JOIN LATERAL (VALUES (0, taken.straight_bytes, taken.straight IS NOT NULL),
                                 (1, taken.original_bytes, taken.original IS NOT NULL)) AS kind (what, bytes, is_there)
     WHERE system.site_id = $1::uuid AND kind.is_there),
  summed AS (SELECT id, what, sum(bytes) OVER (ORDER BY what, taken_at DESC, id) AS up_to FROM held),
  gone AS (SELECT id, bool_or(what = 0) AS straight, bool_or(what = 1) AS original
             FROM summed WHERE up_to > $2::float8 GROUP BY id)
  UPDATE rack_photograph AS taken
     SET straight = CASE WHEN gone.straight THEN NULL ELSE taken.straight END,
         original = CASE WHEN gone.original THEN NULL ELSE taken.original END
    FROM gone WHERE gone.id = taken.id`;

async function holdToRoom(work: Work, siteId: string): Promise<void> {
  const { mostMb } = await keepingOf(work.tx, siteId);
  await readerOf(work.tx).query(letGo, [siteId, mostMb * 1e6]);
}

/** A photograph of a rack without its pictures. @throws Refusal 404 */
export async function findRackPhotograph(db: Reader, id: string) {
  const found = await db.rackPhotograph.findUnique({
    where: { id },
    omit: { straight: true, original: true },
    include: {
      rack: { select: { id: true, name: true, rows: true, columns: true } },
      account: { select: { name: true } },
    },
  });
  if (found === null) throw notFound('This photograph');
  return found;
}

/** What it tells of each lot. */
export interface LotInPhotograph {
  /** Of its row. */
  id: string;
  lotId: string;
  code: string;
  ownCode: string;
  kind: string;
  slots: string;
  photoId: string | null;
  whiteness: number | null;
  whitenessError: number | null;
  areaMm2: number | null;
  areaLowMm2: number | null;
  areaHighMm2: number | null;
  outline: [number, number][][] | null;
  leftOut: string | null;
  refuseReason: string | null;
}

const lotsIn = `
  SELECT shown.id, lot.id AS "lotId", lot.code, lot.own_code AS "ownCode", kind.name AS kind, shown.slots,
         CASE WHEN photo.voided_at IS NULL THEN shown.photo_id END AS "photoId", shown.whiteness,
         shown.whiteness_error AS "whitenessError", shown.area_mm2 AS "areaMm2", shown.area_low_mm2 AS "areaLowMm2",
         shown.area_high_mm2 AS "areaHighMm2", shown.outline, shown.left_out AS "leftOut",
         shown.refuse_reason AS "refuseReason"
    FROM rack_photograph_lot AS shown JOIN lot ON lot.id = shown.lot_id JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN photo ON photo.id = shown.photo_id
   WHERE shown.photograph_id = $1::uuid ORDER BY shown.id`;

/** The lots of a photograph, in the order of their slots. */
export async function lotsInPhotograph(sql: SqlReader, id: string): Promise<LotInPhotograph[]> {
  return (await sql.query<LotInPhotograph>(lotsIn, [id])).rows;
}

/** A rack's photographs, the newest first, with how many lots each measured. */
export interface ListedPhotograph {
  id: string;
  takenAt: Date;
  hasStraight: boolean;
  hasOriginal: boolean;
  measured: number;
  leftOut: number;
  voidReason: string | null;
}

const ofRack = `
  SELECT taken.id, taken.taken_at AS "takenAt", taken.straight IS NOT NULL AS "hasStraight",
         taken.original IS NOT NULL AS "hasOriginal", taken.void_reason AS "voidReason",
         count(shown.id) FILTER (WHERE shown.left_out IS NULL)::int AS measured,
         count(shown.id) FILTER (WHERE shown.left_out IS NOT NULL)::int AS "leftOut"
    FROM rack_photograph AS taken LEFT JOIN rack_photograph_lot AS shown ON shown.photograph_id = taken.id
   WHERE taken.rack_id = $1::uuid GROUP BY taken.id ORDER BY taken.taken_at DESC, taken.id DESC LIMIT $2`;

/** @param most how many at the most */
export async function photographsOfRack(
  sql: SqlReader,
  rackId: string,
  most: number,
): Promise<ListedPhotograph[]> {
  return (await sql.query<ListedPhotograph>(ofRack, [rackId, most])).rows;
}

/** Whether the straightened rack is still kept. */
export const hasStraight = async (db: Reader, id: string): Promise<boolean> =>
  (await db.rackPhotograph.count({ where: { id, straight: { not: null } } })) > 0;

/** The straightened rack, or the file as it was sent, JPEG. @throws Refusal 404, also once it has gone */
export async function rackPictureBytes(
  db: Reader,
  id: string,
  which: 'straight' | 'original',
): Promise<Uint8Array> {
  const found = await db.rackPhotograph.findUnique({ where: { id }, select: { [which]: true } });
  const bytes = (found as Record<string, Uint8Array | null> | null)?.[which] ?? null;
  if (bytes === null) throw notFound('This picture');
  return bytes;
}

/**
 * Takes a photograph back as a whole: its pictures of lots are void with it, and nothing it measured counts.
 * @throws Refusal 404, 409
 */
export async function takeBackPhotograph(
  work: Work,
  id: string,
  reason: string,
): Promise<{ rackId: string }> {
  const { rackId } = await findRackPhotograph(work.tx, id);
  const data = { voidedAt: work.now, voidReason: reason };
  const { count } = await work.tx.rackPhotograph.updateMany({ where: { id, voidedAt: null }, data });
  if (count === 0) throw new Refusal('This photograph is taken back already.', { status: 409 });
  await work.tx.photo.updateMany({ where: { ofRack: { photographId: id }, voidedAt: null }, data });
  await touchRack(work, rackId);
  work.record('rack_photograph.taken_back', { type: 'rack', id: rackId }, { photograph: id, reason });
  return { rackId };
}
