import type pg from 'pg';
import type { LampSetting } from '../../farm/light/lamp-settings.rules.ts';
import { type LightEstimate, lightAt, type SlotLightHistory } from '../../farm/light/slot-light.rules.ts';
import { slotLightHistories } from '../../farm/light/slot-light.ts';
import { placeCareOf } from '../../stock/light/place-care.ts';
import { type LampEffect, lampEffect, type MeanLight } from './lamp-effect.rules.ts';
import { type LampEffectRow, lampEffectRows, type NamedLot } from './lamp-effect-rows.rules.ts';

const lotQuery = `
  SELECT lot.id AS "lotId", lot.code, kind.name AS kind, min(rack.name) AS "rackName",
         array_agg(slot_name ORDER BY lot_place.row, lot_place."column") AS names, array_agg(slot_id::text) AS "slotIds"
    FROM lot_place
    JOIN rack ON rack.id = lot_place.rack_id
    JOIN lot ON lot.id = lot_place.lot_id
    JOIN kind ON kind.id = lot.kind_id
   WHERE rack.lamp_id = $1 GROUP BY lot.id, kind.id`;

interface LotRow {
  lotId: string;
  code: string;
  kind: string;
  rackName: string;
  names: string[];
  slotIds: string[];
}

function meanLight(histories: readonly SlotLightHistory[], at: Date): MeanLight | null {
  const measured = histories.map((history) => lightAt(history, at)).filter((light) => light !== null);
  if (measured.length === 0) return null;
  const mean = (of: (light: LightEstimate) => number) =>
    measured.reduce((sum, light) => sum + of(light), 0) / measured.length;
  const parMax = Math.max(...measured.map((light) => light.par));
  return { par: mean((light) => light.par), parMax, dli: mean((light) => light.dli) };
}

/** What a new setting of lamps would do to the lots under them from now on, in all and lot by lot. */
export async function effectOfSetting(
  pool: pg.Pool,
  lampId: string,
  setting: Omit<LampSetting, 'at'>,
  now: Date,
): Promise<LampEffect & { lots: LampEffectRow[] }> {
  const { rows } = await pool.query<LotRow>(lotQuery, [lampId]);
  const [histories, habits] = await Promise.all([
    slotLightHistories(
      pool,
      rows.flatMap((row) => row.slotIds),
      now,
    ),
    placeCareOf(
      pool,
      rows.map((row) => row.lotId),
      now,
    ),
  ]);
  const lots = rows.map(({ lotId, slotIds, code, kind, rackName, names }): NamedLot => {
    const slots = slotIds.map((id) => histories.get(id)).filter((slot) => slot !== undefined);
    const changed = slots.map((slot) => ({ ...slot, settings: [...slot.settings, { ...setting, at: now }] }));
    const {
      accustomed = null,
      isAccustomed = false,
      stepRatio = null,
      parCeiling = null,
      parLow = null,
    } = habits.get(lotId) ?? {};
    const named = { code, kind, place: `${rackName}, ${names.join(', ')}` };
    const tolerated = { accustomed, isAccustomed, stepRatio, parCeiling, parLow };
    return { ...named, ...tolerated, now: meanLight(slots, now), after: meanLight(changed, now) };
  });
  return { ...lampEffect(lots, setting.percent), lots: lampEffectRows(lots) };
}
