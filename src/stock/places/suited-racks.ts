import type pg from 'pg';
import { localDay } from '../../platform/days.ts';
import { placeCareOf } from '../light/place-care.ts';
import { listRacks } from './free-slots.ts';
import { suitsLot } from './move-effects.rules.ts';
import { slotOccupancy } from './occupancy.ts';

/** A rack of the site, for one lot that looks for a place. */
export interface RackForLot {
  id: string;
  /** "North hall · Raceway 1 · N1 (49 free, 12 suit)". */
  text: string;
  free: number;
  /** It stands in a tank for quarantine. */
  quarantine: boolean;
  /** Its free slots that suit the lot by light and flow, by id. */
  suiting: ReadonlySet<string>;
}

const waterQuery = `
  SELECT rack.id, tank.quarantine, tank.quarantine = kept.apart AS right,
         NOT EXISTS (SELECT FROM lot_place AS place JOIN tank AS own ON own.id = place.tank_id
                      WHERE place.lot_id = $1 AND own.system_id = tank.system_id) AS "isOther"
    FROM (SELECT CASE WHEN lot.quarantine_until IS NULL THEN coalesce(bool_or(tank.quarantine), false)
                      ELSE lot.quarantine_until >= $3::date END AS apart
            FROM lot LEFT JOIN lot_place AS place ON place.lot_id = lot.id LEFT JOIN tank ON tank.id = place.tank_id
           WHERE lot.id = $1 GROUP BY lot.id) AS kept
    CROSS JOIN rack JOIN tank ON tank.id = rack.tank_id
   WHERE rack.id = ANY($2::uuid[])`;

interface Water {
  id: string;
  quarantine: boolean;
  /** A tank for quarantine where the lot is kept apart, any other where it is not. */
  right: boolean;
  /** The lot does not stand in this water. */
  isOther: boolean;
}

/**
 * The racks of a site for a lot, the best suited first: a lot in quarantine goes to a tank for that and no other does, then
 * the number of free slots that suit, then the free ones; the rest as the house lists them. 15 queries.
 * @param apart only racks in other water than the lot's, those for quarantine first
 */
export async function racksForLot(
  pool: pg.Pool,
  site: { id: string; timeZone: string },
  lotId: string,
  now: Date,
  { apart = false }: { apart?: boolean } = {},
): Promise<RackForLot[]> {
  const listed = await listRacks(pool, site.id);
  const ids = listed.map(({ id }) => id);
  const [slots, care, waters] = await Promise.all([
    slotOccupancy(pool, ids, now),
    placeCareOf(pool, [lotId], now),
    pool.query<Water>(waterQuery, [lotId, ids, localDay(now, site.timeZone)]),
  ]);
  const needs = care.get(lotId);
  const suiting = Map.groupBy(
    slots.filter((slot) => slot.lot === null && needs !== undefined && suitsLot(slot, needs)),
    ({ rackId }) => rackId,
  );
  const waterOf = new Map(waters.rows.map((water) => [water.id, water]));
  const rank = ({ id, suiting: { size }, free, quarantine }: RackForLot) => [
    Number(apart ? quarantine : waterOf.get(id)?.right === true),
    size,
    Math.min(free, 1),
  ];
  return listed
    .filter(({ id }) => !apart || waterOf.get(id)?.isOther === true)
    .map(({ id, name, free }) => {
      const fits = new Set((suiting.get(id) ?? []).map((slot) => slot.id));
      const suit = fits.size === 0 ? '' : `, ${fits.size} suit${fits.size === 1 ? 's' : ''}`;
      const quarantine = waterOf.get(id)?.quarantine === true;
      return { id, free, quarantine, suiting: fits, text: `${name} (${free} free${suit})` };
    })
    .toSorted((a, b) => compared(rank(b), rank(a)));
}

/** Below, at or above zero, as the first figures that differ say. */
const compared = (a: readonly number[], b: readonly number[]): number =>
  a.map((figure, i) => figure - (b[i] ?? 0)).find((difference) => difference !== 0) ?? 0;
