import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { type Care, lotCare } from '../kinds/care.ts';
import { knownAccustomed } from '../light/accustomed.rules.ts';
import { type LotLight, lotLights, NO_LIGHT } from '../light/lot-light.ts';
import { type Pace, paceBy } from '../light/pace.rules.ts';
import { placeWords } from '../places/slots.ts';
import type { Bearing } from './pace.rules.ts';

/** A lot that may be acclimated, with its care and the light it lives in. */
export interface LotWithLight {
  id: string;
  code: string;
  kind: string;
  pieces: number;
  /** Its slots now; none when it stands nowhere. */
  slotIds: string[];
  /** "Rack S2, A3"; "" when it stands nowhere. */
  place: string;
  rackId: string | null;
  systemId: string | null;
  inQuarantine: boolean;
  /** The running acclimation it is in. */
  acclimation: { id: string; name: string } | null;
  care: Care;
  light: LotLight;
}

interface Row extends Omit<LotWithLight, 'care' | 'light' | 'slotIds' | 'place'> {
  slots: (Cell & { id: string })[];
  rackName: string | null;
}

const query = `
  SELECT lot.id, lot.code, kind.name AS kind, lot.pieces, place.slots, place.rack_name AS "rackName",
         place.rack_id AS "rackId", place.system_id AS "systemId",
         (coalesce(lot.quarantine_until >= $3::date, false) OR coalesce(tank.quarantine, false)) AS "inQuarantine",
         (SELECT json_build_object('id', acclimation.id, 'name', acclimation.name)
            FROM acclimation_lot JOIN acclimation ON acclimation.id = acclimation_lot.acclimation_id
           WHERE acclimation_lot.lot_id = lot.id AND acclimation_lot.ended_at IS NULL LIMIT 1) AS acclimation
    FROM lot
    JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN LATERAL (
      SELECT coalesce(json_agg(json_build_object('id', slot_id, 'row', row, 'column', "column") ORDER BY row, "column"), '[]') AS slots,
             min(rack_name) AS rack_name, (min(rack_id::text))::uuid AS rack_id, (min(system_id::text))::uuid AS system_id,
             (min(tank_id::text))::uuid AS tank_id
        FROM lot_place WHERE lot_id = lot.id) AS place ON true
    LEFT JOIN tank ON tank.id = place.tank_id
   WHERE lot.site_id = $1::uuid AND lot.id = ANY($2::uuid[])
   ORDER BY lot.code`;

/** Lots of a site with their care and light, by code. Nine queries, however many. */
export async function readLotsWithLight(
  reader: SqlReader,
  siteId: string,
  lotIds: readonly string[],
  now: Date,
): Promise<LotWithLight[]> {
  if (lotIds.length === 0) return [];
  const today = now.toISOString().slice(0, 10);
  const { rows } = await reader.query<Row>(query, [siteId, lotIds, today]);
  const care = await lotCare(reader, { lotIds });
  const lights = await lotLights(reader, lotIds, care, now);
  return rows.map(({ slots, rackName, ...row }) => ({
    ...row,
    slotIds: slots.map((slot) => slot.id),
    place: rackName === null ? '' : placeWords(rackName, slots),
    care: care.get(row.id) ?? {},
    light: lights.get(row.id) ?? NO_LIGHT,
  }));
}

/** The daily light a lot is used to, mol/(m2 d); null where that is not known yet. */
export const usedHere = ({ light, care }: LotWithLight, now: Date): number | null =>
  knownAccustomed(light, care.adaptation_days?.high ?? null, now);

/** Where no kind says how dim it is kept, umol/(m2 s) (common practice for shade-loving kinds). */
const USUAL_DIM_END = 50;

/** The dim end of the light that suits these lots, umol/(m2 s): where one begins whose light before is not known. */
export function dimEndOf(lots: readonly LotWithLight[]): number {
  const lows = lots.flatMap((lot) => lot.care.par_range?.low ?? []);
  return lows.length === 0 ? USUAL_DIM_END : Math.min(...lows);
}

/** The pace of one lot by its care; the usual figures where its kind states none. */
export function paceOf(care: Care): Pace {
  return paceBy({
    stepRatio: care.step_ratio?.high,
    dwellDays: care.dwell_days?.high,
    adaptationDays: care.adaptation_days?.high,
  });
}

/** A lot as the planner sees it. */
export function bearingOf({ id, code, care }: LotWithLight, accustomed: number): Bearing {
  return { lotId: id, code, accustomed, ...paceOf(care), parCeiling: care.par_ceiling?.high ?? null };
}
