import type pg from 'pg';
import { accustomedTo, type PlaceCare } from './accustomed.rules.ts';
import { cameWith, lotLines } from './inherited-light.ts';

/** How a lot bears a place, and what light it is used to. */
export interface Habit extends PlaceCare {
  /** mol/(m2 d); null where the lot's light was never known. */
  accustomed: number | null;
}

interface FigureRow {
  lotId: string;
  figure: string;
  low: number | null;
  high: number | null;
  words: string | null;
}

const figures = [
  'adaptation_days',
  'step_ratio',
  'dwell_days',
  'par_range',
  'par_ceiling',
  'flow',
  'jet',
  'base',
  'reach_mm',
];

// A lot's own figure goes before its taxon's, and that before its group's.
const careQuery = `
  SELECT DISTINCT ON (lot.id, care_figure.figure) lot.id AS "lotId", care_figure.figure, care_figure.low, care_figure.high, care_figure.words
    FROM lot
    JOIN kind ON kind.id = lot.kind_id
    JOIN care_figure ON care_figure.lot_id = lot.id OR care_figure.kind_id IN (kind.id, kind.parent_id)
   WHERE lot.id = ANY($1::uuid[]) AND care_figure.figure = ANY($2::text[])
   ORDER BY lot.id, care_figure.figure, care_figure.lot_id IS NULL, care_figure.kind_id <> kind.id`;

function placeCare(rows: readonly FigureRow[]): PlaceCare {
  const figure = (name: string) => rows.find((row) => row.figure === name);
  return {
    adaptationDays: figure('adaptation_days')?.high ?? null,
    stepRatio: figure('step_ratio')?.high ?? null,
    dwellDays: figure('dwell_days')?.high ?? null,
    parLow: figure('par_range')?.low ?? null,
    parHigh: figure('par_range')?.high ?? null,
    parCeiling: figure('par_ceiling')?.high ?? null,
    flowLow: figure('flow')?.low ?? null,
    flowHigh: figure('flow')?.high ?? null,
    jet: figure('jet')?.words ?? null,
    base: figure('base')?.words ?? null,
    reachMm: figure('reach_mm')?.high ?? null,
  };
}

/** What light each lot is accustomed to and how it bears a place; six queries, however many lots. */
export async function lotHabits(
  pool: pg.Pool,
  lotIds: readonly string[],
  now: Date,
): Promise<Map<string, Habit>> {
  if (lotIds.length === 0) return new Map();
  const [care, exposures, came] = await Promise.all([
    pool.query<FigureRow>(careQuery, [lotIds, figures]),
    lotLines(pool, lotIds, now),
    cameWith(pool, lotIds, now),
  ]);
  const stated = Map.groupBy(care.rows, (row) => row.lotId);
  return new Map(
    lotIds.map((lotId) => {
      const known = placeCare(stated.get(lotId) ?? []);
      const accustomed = accustomedTo(
        exposures.get(lotId) ?? [],
        known.adaptationDays,
        now,
        came.get(lotId) ?? null,
      );
      return [lotId, { ...known, accustomed }];
    }),
  );
}
