import type pg from 'pg';
import { lotExposures } from './exposure.ts';
import { accustomedTo, type LightCare } from './habits.rules.ts';

export interface LightHabit extends LightCare {
  /** mol/(m2 d); null where the lot's light was never known. */
  accustomed: number | null;
}

interface FigureRow {
  lotId: string;
  figure: string;
  low: number | null;
  high: number | null;
}

// A lot's own figure goes before its taxon's, and that before its group's.
const careQuery = `
  SELECT DISTINCT ON (lot.id, care_figure.figure) lot.id AS "lotId", care_figure.figure, care_figure.low, care_figure.high
    FROM lot
    JOIN kind ON kind.id = lot.kind_id
    JOIN care_figure ON care_figure.lot_id = lot.id OR care_figure.kind_id IN (kind.id, kind.parent_id)
   WHERE lot.id = ANY($1::uuid[]) AND care_figure.figure IN ('adaptation_days', 'step_ratio', 'par_range', 'par_ceiling')
   ORDER BY lot.id, care_figure.figure, care_figure.lot_id IS NULL, care_figure.kind_id <> kind.id`;

function lightCare(rows: readonly FigureRow[]): LightCare {
  const figure = (name: string) => rows.find((row) => row.figure === name);
  return {
    adaptationDays: figure('adaptation_days')?.high ?? null,
    stepRatio: figure('step_ratio')?.high ?? null,
    parLow: figure('par_range')?.low ?? null,
    parHigh: figure('par_range')?.high ?? null,
    parCeiling: figure('par_ceiling')?.high ?? null,
  };
}

/** What light each lot is accustomed to and how it bears a change; five queries, however many lots. */
export async function lightHabits(
  pool: pg.Pool,
  lotIds: readonly string[],
  now: Date,
): Promise<Map<string, LightHabit>> {
  if (lotIds.length === 0) return new Map();
  const [care, exposures] = await Promise.all([
    pool.query<FigureRow>(careQuery, [lotIds]),
    lotExposures(pool, { lotIds }, now),
  ]);
  const figures = Map.groupBy(care.rows, (row) => row.lotId);
  return new Map(
    lotIds.map((lotId) => {
      const known = lightCare(figures.get(lotId) ?? []);
      const accustomed = accustomedTo(exposures.get(lotId) ?? [], known.adaptationDays, now);
      return [lotId, { ...known, accustomed }];
    }),
  );
}
