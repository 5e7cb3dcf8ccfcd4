import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Care } from '../kinds/care.ts';
import { type ArrivalLight, accustomedTo } from './accustomed.rules.ts';
import type { Exposure } from './exposure.ts';
import { arrivalLights, lightHistories } from './inherited-light.ts';

/** The light of a lot since its beginning: that of the lots it came out of, then its own. */
export interface LotLight {
  exposures: Exposure[];
  /** What it gets where it stands now; null when it is unplaced or its slots were never surveyed. */
  now: Exposure | null;
  /** The daily light it is accustomed to, mol/(m2 d); null when nothing is known. */
  accustomed: number | null;
  /** What its running acclimation states as its light at the start; null where it is in none. */
  arrival: ArrivalLight | null;
}

/** The light of a lot that never stood in known light. */
export const NO_LIGHT: LotLight = { exposures: [], now: null, accustomed: null, arrival: null };

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
  const [lines, arrivals] = await Promise.all([
    lightHistories(reader, lotIds, now),
    arrivalLights(reader, lotIds, now),
  ]);
  return new Map(
    [...lines].map(([lotId, exposures]) => {
      const last = exposures.at(-1);
      const arrival = arrivals.get(lotId) ?? null;
      const days = care.get(lotId)?.adaptation_days?.high ?? null;
      return [
        lotId,
        {
          exposures,
          now: last?.to === null ? last : null,
          accustomed: accustomedTo(exposures, days, now, arrival),
          arrival,
        },
      ];
    }),
  );
}
