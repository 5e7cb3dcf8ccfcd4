import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Care } from '../kinds/care.ts';
import { accustomedTo, type CameWith } from './accustomed.rules.ts';
import type { Exposure } from './exposure.ts';
import { cameWith, lotLines } from './inherited-light.ts';

/** The light a lot has lived in, its own stays after those of the lots it came out of. */
export interface LotLight {
  exposures: Exposure[];
  /** What it gets where it stands now; null when it is unplaced or its slots were never surveyed. */
  now: Exposure | null;
  /** The daily light it is accustomed to, mol/(m2 d); null when nothing is known. */
  accustomed: number | null;
  /** What its acclimation says it was used to when that began; null where it is in none. */
  came: CameWith | null;
}

/** Of a lot that never stood in known light. */
export const NO_LIGHT: LotLight = { exposures: [], now: null, accustomed: null, came: null };

/**
 * The light of lots. A lot that was cut or split off begins accustomed to what the lot it came out of had; one
 * that came from elsewhere begins accustomed to what its acclimation says it came with, else to the first light known
 * here. Six queries, however many lots.
 * @param care as `lotCare` gives it: the kind's time constant (`adaptation_days`), 10 days where it has none
 */
export async function lotLights(
  reader: SqlReader,
  lotIds: readonly string[],
  care: ReadonlyMap<string, Care>,
  now: Date,
): Promise<Map<string, LotLight>> {
  const [lines, known] = await Promise.all([lotLines(reader, lotIds, now), cameWith(reader, lotIds, now)]);
  return new Map(
    [...lines].map(([lotId, exposures]) => {
      const last = exposures.at(-1);
      const came = known.get(lotId) ?? null;
      const days = care.get(lotId)?.adaptation_days?.high ?? null;
      return [
        lotId,
        {
          exposures,
          now: last?.to === null ? last : null,
          accustomed: accustomedTo(exposures, days, now, came),
          came,
        },
      ];
    }),
  );
}
