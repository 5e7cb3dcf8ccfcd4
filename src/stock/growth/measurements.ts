import type { SizeMeasure } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { lockLot, lotSubject, piecesAt } from '../base/lot-lock.ts';
import { middleSize, type Sizes } from './growth.rules.ts';

/** Measured sizes to be entered. */
export interface NewSizes extends Sizes {
  lotId: string;
  note: string;
}

/**
 * Enters sizes of pieces of a lot. The newest length becomes the size of the lot as lists and the sale show it.
 * @throws Refusal 404; 409 when more pieces were measured than there were
 */
export async function measureLot(
  work: Work,
  { lotId, at, measure, sizes, note }: NewSizes,
): Promise<{ id: string }> {
  const { code } = await lockLot(work.tx, lotId);
  const there = await piecesAt(work.tx, lotId, at);
  if (sizes.length > there)
    throw new Refusal(`There were ${there} pieces of ${code} then. Enter one size for each piece at most.`, {
      status: 409,
      field: 'sizes',
    });
  const newer = await work.tx.sizeMeasurement.count({
    where: { lotId, measure, at: { gt: at }, voidedAt: null },
  });
  const { id } = await work.tx.sizeMeasurement.create({
    data: { lotId, at, measure, sizes: [...sizes], note, accountId: work.accountId },
  });
  work.record('size.measured', lotSubject(lotId), { code, measure, sizes: sizes.join(', '), at, note });
  if (measure === 'length_mm' && newer === 0) await setSize(work, lotId, listedSize(sizes));
  return { id };
}

/** A length as lists and the sale show it, whole mm. */
const listedSize = (sizes: readonly number[]): number => Math.max(1, Math.round(middleSize(sizes)));

const setSize = (work: Work, lotId: string, sizeMm: number | null) =>
  work.tx.lot.update({ where: { id: lotId }, data: { sizeMm, version: { increment: 1 } } });

/**
 * Takes back sizes that were entered wrong. A lot that has its size by them has that of the length before, and none where
 * there is none: what was typed on its record before is not kept.
 * @throws Refusal 404; 409 when they are void already
 */
export async function voidSizes(work: Work, id: string, reason: string): Promise<{ code: string }> {
  const row = await work.tx.sizeMeasurement.findUnique({ where: { id }, include: { lot: true } });
  if (row === null) throw notFound('This measurement');
  const { sizeMm } = await lockLot(work.tx, row.lotId);
  const data = { voidedAt: work.now, voidReason: reason };
  const { count } = await work.tx.sizeMeasurement.updateMany({ where: { id, voidedAt: null }, data });
  if (count === 0) throw new Refusal('This measurement is void already.', { status: 409 });
  work.record('size.voided', lotSubject(row.lotId), { code: row.lot.code, measurement: id, reason });
  if (row.measure === 'length_mm' && sizeMm === listedSize(row.sizes)) {
    const [last] = await work.tx.sizeMeasurement.findMany({
      where: { lotId: row.lotId, measure: 'length_mm', voidedAt: null },
      orderBy: [{ at: 'desc' }, { id: 'desc' }],
      take: 1,
    });
    await setSize(work, row.lotId, last === undefined ? null : listedSize(last.sizes));
  }
  return { code: row.lot.code };
}

/** Sizes of a lot with who measured them. */
export interface LotSizes extends Sizes {
  id: string;
  note: string;
  by: string;
}

const sizesQuery = `
  SELECT size.id, size.at, size.measure, size.sizes, size.note, coalesce(account.name, '') AS by
    FROM size_measurement AS size LEFT JOIN account ON account.id = size.account_id
   WHERE size.lot_id = $1::uuid AND size.voided_at IS NULL ORDER BY size.at, size.id`;

/** All sizes of a lot that are not void, the oldest first. One query. */
export async function sizesOf(reader: SqlReader, lotId: string): Promise<LotSizes[]> {
  return (await reader.query<LotSizes>(sizesQuery, [lotId])).rows;
}

/** A lot with its sizes and what decides when it is sold. */
export interface MeasuredLot {
  id: string;
  code: string;
  kindId: string;
  kind: string;
  kindCode: string;
  pieces: number;
  isMother: boolean;
  cutAt: Date | null;
  sizes: Sizes[];
}

// Of a kind the first lot stands for those of which nothing is known but their pieces.
const kindsQuery = `
  SELECT kind_id AS "kindId", min(code) AS first, coalesce(sum(pieces) FILTER (WHERE NOT is_mother), 0)::int AS pieces
    FROM lot WHERE site_id = $1::uuid AND pieces > 0 GROUP BY kind_id`;

const lotsQuery = `
  WITH measured AS (
    SELECT lot_id, json_agg(json_build_object('at', at, 'measure', measure, 'sizes', sizes) ORDER BY at, id) AS sizes
      FROM size_measurement WHERE voided_at IS NULL AND measure = 'length_mm' GROUP BY lot_id),
  known AS (
    SELECT lot_id AS id FROM measured
    UNION SELECT lot_id FROM care_figure WHERE figure = $4 AND lot_id IS NOT NULL
    UNION SELECT unnest($2::uuid[])
    UNION SELECT id FROM lot WHERE code = ANY($3::text[]))
  SELECT lot.id, lot.code, lot.kind_id AS "kindId", kind.name AS kind, kind.code AS "kindCode", lot.pieces, lot.is_mother AS "isMother",
         cut.at AS "cutAt", coalesce(measured.sizes, '[]') AS sizes
    FROM known JOIN lot ON lot.id = known.id JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN cut ON cut.into_lot_id = lot.id
    LEFT JOIN measured ON measured.lot_id = lot.id
   WHERE lot.site_id = $1::uuid AND (lot.pieces > 0 OR measured.lot_id IS NOT NULL)
   ORDER BY kind.name, lot.code`;

/** The lots of a site of which more is known than their pieces, and the pieces of each kind that is there. */
export interface MeasuredStock {
  /** By kind and code: measured ones, those of `besides`, those with a sale size of their own, and the first of each kind. */
  lots: MeasuredLot[];
  /** Pieces by the id of their kind, mothers left out. */
  pieces: ReadonlyMap<string, number>;
}

/**
 * The stock of a site with its lengths. Most lots of a large farm were never measured: of those the pieces are summed by the
 * database. Two queries.
 * @param besides lots of which something else is known
 */
export async function measuredStock(
  reader: SqlReader,
  siteId: string,
  besides: readonly string[],
): Promise<MeasuredStock> {
  type KindRow = { kindId: string; first: string; pieces: number };
  const kinds = (await reader.query<KindRow>(kindsQuery, [siteId])).rows;
  type Row = Omit<MeasuredLot, 'sizes'> & { sizes: { at: string; measure: SizeMeasure; sizes: number[] }[] };
  const firsts = kinds.map(({ first }) => first);
  const { rows } = await reader.query<Row>(lotsQuery, [siteId, besides, firsts, 'sale_size_mm']);
  return {
    lots: rows.map(({ sizes, ...row }) => ({
      ...row,
      sizes: sizes.map((one) => ({ ...one, at: new Date(one.at) })),
    })),
    pieces: new Map(kinds.map(({ kindId, pieces }) => [kindId, pieces])),
  };
}
