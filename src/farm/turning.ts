import type pg from 'pg';
import { lotHabits } from './habits.ts';
import { type LampSetting, type LightThen, lightAt, type SlotHistory } from './light.rules.ts';
import { slotHistories } from './light.ts';
import { type LotBeneath, type TurnEffect, turnEffect } from './turning.rules.ts';

const beneathQuery = `
  SELECT lot_id AS "lotId", array_agg(slot_id::text) AS "slotIds"
    FROM lot_place JOIN rack ON rack.id = lot_place.rack_id
   WHERE rack.lamp_id = $1 GROUP BY lot_id`;

function meanLight(histories: readonly SlotHistory[], at: Date): { par: number; dli: number } | null {
  const lit = histories.map((history) => lightAt(history, at)).filter((light) => light !== null);
  if (lit.length === 0) return null;
  const mean = (of: (light: LightThen) => number) =>
    lit.reduce((sum, light) => sum + of(light), 0) / lit.length;
  return { par: mean((light) => light.par), dli: mean((light) => light.dli) };
}

/** What a new setting of lamps would do to the lots beneath, if it came into force now. */
export async function effectOfTurn(
  pool: pg.Pool,
  lampId: string,
  setting: Omit<LampSetting, 'at'>,
  now: Date,
): Promise<TurnEffect> {
  const { rows } = await pool.query<{ lotId: string; slotIds: string[] }>(beneathQuery, [lampId]);
  const [histories, habits] = await Promise.all([
    slotHistories(
      pool,
      rows.flatMap((row) => row.slotIds),
      now,
    ),
    lotHabits(
      pool,
      rows.map((row) => row.lotId),
      now,
    ),
  ]);
  const lots = rows.map(({ lotId, slotIds }): LotBeneath => {
    const slots = slotIds.map((id) => histories.get(id)).filter((slot) => slot !== undefined);
    const turned = slots.map((slot) => ({ ...slot, settings: [...slot.settings, { ...setting, at: now }] }));
    const { accustomed = null, stepRatio = null } = habits.get(lotId) ?? {};
    return { now: meanLight(slots, now), after: meanLight(turned, now), accustomed, stepRatio };
  });
  return turnEffect(lots, setting.percent);
}
