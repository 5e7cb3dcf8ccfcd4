import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { hourMs } from '../../science/numeric/time.ts';
import { figureOf } from '../kinds/care.ts';
import { areaGrowth, discLength, lengthRate, type SeenArea } from './areas.rules.ts';
import { seenAreas } from './areas.ts';
import {
  type ByPhotographs,
  type GrowingLot,
  growingLot,
  type KindRate,
  kindRate,
} from './forecast.rules.ts';
import { growthOf, type LotGrowth, middleSize } from './growth.rules.ts';
import { type MeasuredLot, measuredStock } from './measurements.ts';

/** A lot with how it grows and what it is sold from. */
interface KnownLot extends MeasuredLot {
  growth: LotGrowth;
  saleSize: number;
}

/** A kind with how its lots grow; null where fewer than three were measured. */
export interface KindGrowth {
  id: string;
  code: string;
  name: string;
  saleSize: number;
  rate: KindRate | null;
  measured: number;
}

/** What is known of the stock to come. */
export interface StockGrowth {
  growing: GrowingLot[];
  kinds: KindGrowth[];
  /** Pieces that are large enough already, and those of which nothing can be told. */
  largeEnough: number;
  unknown: number;
}

/** How the lots of a site grow, by their lengths, and where these do not tell by their areas in photographs. Six queries. */
export async function stockGrowth(reader: SqlReader, siteId: string, now: Date): Promise<StockGrowth> {
  const areas = await seenAreas(reader, { siteId, lotId: null }, now);
  const { lots, pieces } = await measuredStock(reader, siteId, [...areas.keys()]);
  const figures = await figureOf(reader, lots, 'sale_size_mm');
  const known = lots.map((lot): KnownLot => {
    const growth = growthOf(lot.sizes, 'length_mm', lot.cutAt);
    return { ...lot, growth, saleSize: figures.lots.get(lot.id)?.high ?? 0 };
  });
  const kinds = kindsOf(known);
  const rates = new Map(kinds.map(({ id, rate }) => [id, rate]));
  const stock = known.filter((lot) => lot.pieces > 0 && !lot.isMother && lot.saleSize > 0);
  const growing: GrowingLot[] = [];
  // By the hour: what is drawn then holds until the next.
  const hour = new Date(Math.floor(now.getTime() / hourMs) * hourMs);
  let largeEnough = 0;
  let unknown = unknownPieces(known, pieces, (kindId) => figures.kinds.get(kindId)?.high ?? 0);
  for (const lot of stock) {
    const last = lot.sizes.at(-1);
    if (last !== undefined && middleSize(last.sizes) >= lot.saleSize) largeEnough += lot.pieces;
    else {
      const seen = byPhotographs(areas.get(lot.id) ?? [], lot.cutAt);
      const one = growingLot(lot, rates.get(lot.kindId) ?? null, hour, seen);
      if (one === null) unknown += lot.pieces;
      else growing.push(one);
    }
  }
  return { growing, kinds, largeEnough, unknown };
}

function byPhotographs(areas: readonly SeenArea[], cutAt: Date | null): ByPhotographs {
  const growth = areaGrowth(areas, cutAt);
  return {
    rate: growth.told ? { ...lengthRate(growth.growth), days: growth.days } : null,
    length: discLength(areas),
  };
}

/** Pieces of lots of which nothing is known but their number, of kinds that have a sale size. */
function unknownPieces(
  known: readonly KnownLot[],
  pieces: ReadonlyMap<string, number>,
  saleSizeOf: (kindId: string) => number,
): number {
  const left = new Map(pieces);
  for (const { kindId, pieces: own, isMother } of known)
    if (!isMother) left.set(kindId, (left.get(kindId) ?? 0) - own);
  return [...left].reduce((sum, [kindId, own]) => (saleSizeOf(kindId) > 0 ? sum + own : sum), 0);
}

function kindsOf(lots: readonly KnownLot[]): KindGrowth[] {
  return [...Map.groupBy(lots, ({ kindId }) => kindId)].map(([id, of]) => {
    const rates = of.flatMap(({ growth }) =>
      growth.told ? [{ perDay: growth.growth.perDay, sd: growth.growth.sd, days: growth.days }] : [],
    );
    const [first] = of;
    return {
      ...{ id, code: first?.kindCode ?? '', name: first?.kind ?? '', saleSize: first?.saleSize ?? 0 },
      ...{ rate: kindRate(rates), measured: rates.length },
    };
  });
}
