import type pg from 'pg';
import { accustomedTo, whyNotAccustomed } from './accustomed.rules.ts';
import { arrivalLights, lightHistories } from './inherited-light.ts';

/** The care figures that decide whether a place suits a lot. PAR in umol/(m2 s); null: nobody states it. */
export interface PlaceCare {
  /** Days of adaptation (time constant). */
  adaptationDays: number | null;
  /** The largest step of light, over what it is accustomed to. */
  stepRatio: number | null;
  /** Days between two such steps. */
  dwellDays?: number | null;
  parLow: number | null;
  parHigh: number | null;
  parCeiling: number | null;
  /** Flow classes it is kept in, 0 still to 3 high. */
  flowLow: number | null;
  flowHigh: number | null;
  /** What the care library says of a jet on it and of the base it stands on, in words. */
  jet: string | null;
  base: string | null;
  /** How far it reaches its neighbours, mm. */
  reachMm: number | null;
}

/** The same for one lot, with the light it is accustomed to. */
export interface LotPlaceCare extends PlaceCare {
  /** mol/(m2 d), from what was measured so far; null where the lot's light was never known. */
  accustomed: number | null;
  /** Whether its light was known for long enough to say that it is used to it. */
  isAccustomed: boolean;
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

// A lot's own figure overrides its taxon's, and that overrides its group's.
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

/** What decides whether a place suits each of these lots; six queries, however many lots. */
export async function placeCareOf(
  pool: pg.Pool,
  lotIds: readonly string[],
  now: Date,
): Promise<Map<string, LotPlaceCare>> {
  if (lotIds.length === 0) return new Map();
  const [care, histories, arrivals] = await Promise.all([
    pool.query<FigureRow>(careQuery, [lotIds, figures]),
    lightHistories(pool, lotIds, now),
    arrivalLights(pool, lotIds, now),
  ]);
  const figuresOf = Map.groupBy(care.rows, (row) => row.lotId);
  return new Map(
    lotIds.map((lotId) => {
      const stated = placeCare(figuresOf.get(lotId) ?? []);
      const { adaptationDays } = stated;
      const exposures = histories.get(lotId) ?? [];
      const arrival = arrivals.get(lotId) ?? null;
      const accustomed = accustomedTo(exposures, adaptationDays, now, arrival);
      const why = whyNotAccustomed({ exposures, accustomed, arrival }, adaptationDays, now);
      return [lotId, { ...stated, accustomed, isAccustomed: why === null }];
    }),
  );
}
