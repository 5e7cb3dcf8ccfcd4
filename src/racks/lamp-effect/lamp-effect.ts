import type pg from 'pg';
import type { LampSetting } from '../../farm/light/lamp-settings.rules.ts';
import { type LightEstimate, lightAt, type SlotLightHistory } from '../../farm/light/slot-light.rules.ts';
import { slotLightHistories } from '../../farm/light/slot-light.ts';
import { placeCareOf } from '../../stock/light/place-care.ts';
import { type LotsLight, type TurnEffect, turnEffect } from './lamp-effect.rules.ts';
import { type NamedBeneath, type TurnRow, turnRows } from './lamp-effect-rows.rules.ts';

const beneathQuery = `
  SELECT lot.id AS "lotId", lot.code, kind.name AS kind, min(rack.name) AS "rackName",
         array_agg(slot_name ORDER BY lot_place.row, lot_place."column") AS names, array_agg(slot_id::text) AS "slotIds"
    FROM lot_place
    JOIN rack ON rack.id = lot_place.rack_id
    JOIN lot ON lot.id = lot_place.lot_id
    JOIN kind ON kind.id = lot.kind_id
   WHERE rack.lamp_id = $1 GROUP BY lot.id, kind.id`;

interface Beneath {
  lotId: string;
  code: string;
  kind: string;
  rackName: string;
  names: string[];
  slotIds: string[];
}

function meanLight(histories: readonly SlotLightHistory[], at: Date): LotsLight | null {
  const lit = histories.map((history) => lightAt(history, at)).filter((light) => light !== null);
  if (lit.length === 0) return null;
  const mean = (of: (light: LightEstimate) => number) =>
    lit.reduce((sum, light) => sum + of(light), 0) / lit.length;
  const parMax = Math.max(...lit.map((light) => light.par));
  return { par: mean((light) => light.par), parMax, dli: mean((light) => light.dli) };
}

/** What a new setting of lamps would do to the lots beneath, in all and one by one, if it came into force now. */
export async function effectOfTurn(
  pool: pg.Pool,
  lampId: string,
  setting: Omit<LampSetting, 'at'>,
  now: Date,
): Promise<TurnEffect & { lots: TurnRow[] }> {
  const { rows } = await pool.query<Beneath>(beneathQuery, [lampId]);
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
  const lots = rows.map(({ lotId, slotIds, code, kind, rackName, names }): NamedBeneath => {
    const slots = slotIds.map((id) => histories.get(id)).filter((slot) => slot !== undefined);
    const turned = slots.map((slot) => ({ ...slot, settings: [...slot.settings, { ...setting, at: now }] }));
    const { accustomed = null, stepRatio = null, parCeiling = null, parLow = null } = habits.get(lotId) ?? {};
    const named = { code, kind, place: `${rackName}, ${names.join(', ')}` };
    const borne = { accustomed, stepRatio, parCeiling, parLow };
    return { ...named, ...borne, now: meanLight(slots, now), after: meanLight(turned, now) };
  });
  return { ...turnEffect(lots, setting.percent), lots: turnRows(lots) };
}
