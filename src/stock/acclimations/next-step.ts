import { slotLightAt } from '../../farm/light/slot-light.ts';
import { WITHIN_RACK } from '../../farm/racks/slots.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { accustomedLight } from '../../science/light.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { troublesOfMoves, troublesOfWaters } from '../pests/troubles.ts';
import { type AcclimationHold, acclimationHold, type LotStanding, type StepEffect } from './hold.rules.ts';
import { type LotWithLight, paceOf, readLotsWithLight, usedHere } from './lots.ts';
import { type Acclimation, type AcclimationStep, nextSteps } from './state.ts';

/** Everything the steps ahead of some acclimations are judged by. */
export interface StepContext {
  now: Date;
  lots: ReadonlyMap<string, LotWithLight>;
  /** Light and standing lot of the slots ahead. */
  slots: ReadonlyMap<string, SlotNow>;
  /** Settings of the lamps ahead, per cent. */
  percents: ReadonlyMap<string, number | null>;
  wellDays: ReadonlyMap<string, number>;
  /** What the water of a step ahead says while an alert is open on it, by the step's id. */
  troubles: ReadonlyMap<string, string>;
}

interface SlotNow {
  id: string;
  par: number | null;
  dli: number | null;
  lotId: string | null;
  code: string | null;
}

const slotQuery = `
  SELECT slot.id, lot.id AS "lotId", lot.code
    FROM slot JOIN rack ON rack.id = slot.rack_id AND ${WITHIN_RACK}
    LEFT JOIN lot_place ON lot_place.slot_id = slot.id
    LEFT JOIN lot ON lot.id = lot_place.lot_id
   WHERE slot.id = ANY($1::uuid[])`;

type SlotRow = Pick<SlotNow, 'id' | 'lotId' | 'code'>;

const lampQuery = `
  SELECT lamp.id, (SELECT percent FROM lamp_setting WHERE lamp_id = lamp.id AND at <= $2 ORDER BY at DESC LIMIT 1) AS percent
    FROM lamp WHERE lamp.id = ANY($1::uuid[])`;

// Days on which a lot was found well since it was last found otherwise, or since the plan began.
const wellQuery = `
  SELECT acclimation_lot.lot_id AS "lotId", count(DISTINCT (seen.at AT TIME ZONE site.time_zone)::date)::int AS days
    FROM acclimation_lot
    JOIN acclimation ON acclimation.id = acclimation_lot.acclimation_id
    JOIN site ON site.id = acclimation.site_id
    JOIN condition AS seen ON seen.lot_id = acclimation_lot.lot_id AND seen.voided_at IS NULL AND seen.state = 'well'
     AND seen.at >= acclimation.created_at AND seen.at <= $2
     AND NOT EXISTS (SELECT 1 FROM condition AS later WHERE later.lot_id = seen.lot_id AND later.voided_at IS NULL
                        AND later.state <> 'well' AND later.at >= seen.at AND later.at <= $2)
   WHERE acclimation_lot.acclimation_id = ANY($1::uuid[])
   GROUP BY acclimation_lot.lot_id`;

/** Reads what the next steps of these acclimations are judged by. Twenty queries, however many. */
export async function readStepContext(
  reader: SqlReader,
  acclimations: readonly Acclimation[],
  now: Date,
): Promise<StepContext> {
  const ahead = acclimations.flatMap(nextSteps);
  const slotIds = [...new Set(ahead.flatMap((step) => step.slotIds))];
  const lampIds = [...new Set(ahead.flatMap((step) => step.lampId ?? []))];
  const lotIds = [...new Set(acclimations.flatMap((one) => one.lots.map((lot) => lot.id)))];
  const siteId = acclimations[0]?.siteId ?? null;
  const lots = siteId === null ? [] : await readLotsWithLight(reader, siteId, lotIds, now);
  const standing = (await reader.query<SlotRow>(slotQuery, [slotIds])).rows;
  const light = await slotLightAt(reader, slotIds, now);
  const slots = standing.map((slot): SlotNow => {
    const { par = null, dli = null } = light.get(slot.id) ?? {};
    return { ...slot, par, dli };
  });
  const lamps = (await reader.query<{ id: string; percent: number | null }>(lampQuery, [lampIds, now])).rows;
  const ids = acclimations.map((one) => one.id);
  const well = (await reader.query<{ lotId: string; days: number }>(wellQuery, [ids, now])).rows;
  const troubles = await stepTroubles(reader, ahead);
  return {
    now,
    troubles,
    lots: new Map(lots.map((lot) => [lot.id, lot])),
    slots: new Map(slots.map((slot) => [slot.id, slot])),
    percents: new Map(lamps.map(({ id, percent }) => [id, percent])),
    wellDays: new Map(well.map(({ lotId, days }) => [lotId, days])),
  };
}

/** What speaks against steps while an alert is open on their water, by the step's id: moves in it, and lamps over it. Four queries. */
async function stepTroubles(
  reader: SqlReader,
  steps: readonly AcclimationStep[],
): Promise<ReadonlyMap<string, string>> {
  if (steps.length === 0) return new Map();
  const moves = steps.flatMap(({ id, lotId, code, slotIds }) =>
    lotId === null || slotIds.length === 0 ? [] : [{ id, lotId, code: code ?? '', slotIds }],
  );
  const byLot = await troublesOfMoves(reader, moves);
  const lamps = steps.filter(({ lampId, systemId }) => lampId !== null && systemId !== null);
  const byWater = await troublesOfWaters(
    reader,
    lamps.map(({ systemId }) => systemId ?? ''),
  );
  const said = [
    ...moves.map(({ id, lotId }) => [id, byLot.get(lotId)?.why ?? ''] as const),
    ...lamps.map(({ id, systemId }) => [id, byWater.get(systemId ?? '') ?? ''] as const),
  ];
  return new Map(said.filter(([, why]) => why !== ''));
}

/** What a lot of an acclimation is used to: what it is used to here, or, of one that came, from the light it came from. */
function usedBy(acclimation: Acclimation, lot: LotWithLight, now: Date): number | null {
  if (acclimation.received === 'here') return lot.light.accustomed;
  const first =
    acclimation.steps.find((step) => step.lotId === lot.id && step.doneAt !== null)?.doneAt ?? null;
  if (first === null) return acclimation.fromDli;
  const since = lot.light.exposures.filter(({ to }) => to === null || to > first);
  const history = since.map(({ from, dli }) => ({
    fromDay: Math.max(from.getTime(), first.getTime()) / dayMs,
    dailyLight: dli,
  }));
  const { adaptationDays } = paceOf(lot.care);
  return accustomedLight(
    history,
    adaptationDays,
    acclimation.fromDli,
    Math.max(now.getTime(), first.getTime()) / dayMs,
  );
}

function standingOf(acclimation: Acclimation, lotId: string, context: StepContext): LotStanding | null {
  const lot = context.lots.get(lotId);
  if (lot === undefined) return null;
  return {
    code: lot.code,
    pieces: lot.pieces,
    used: usedBy(acclimation, lot, context.now),
    isUsedKnown:
      acclimation.received === 'here'
        ? usedHere(lot, context.now) !== null
        : acclimation.received !== 'unknown',
    light: lot.light.now?.dli ?? null,
    adaptationDays: paceOf(lot.care).adaptationDays,
    wellDays: context.wellDays.get(lotId) ?? 0,
    parCeiling: lot.care.par_ceiling?.high ?? null,
  };
}

/** What a step would bring about now. */
export function stepEffect(
  acclimation: Acclimation,
  step: AcclimationStep,
  context: StepContext,
): StepEffect {
  const firstPosition = acclimation.steps[0]?.position ?? 1;
  const common = {
    pauseReason: acclimation.pauseReason,
    maxStepRatio: acclimation.maxStepRatio,
    raisesRecovery: acclimation.purpose === 'recovery' && step.position > firstPosition,
  };
  return step.lampId === null
    ? { ...common, ...movesOf(acclimation, step, context) }
    : { ...common, move: null, lots: turnsOf(acclimation, step, context) };
}

function movesOf(
  acclimation: Acclimation,
  step: AcclimationStep,
  context: StepContext,
): Pick<StepEffect, 'move' | 'lots'> {
  const lot = standingOf(acclimation, step.lotId ?? '', context);
  const slots = step.slotIds.flatMap((id) => context.slots.get(id) ?? []);
  const other = slots.find((slot) => slot.lotId !== null && slot.lotId !== step.lotId);
  const lit = slots.flatMap(({ par, dli }) => (par === null || dli === null ? [] : [{ par, dli }]));
  const light =
    lit.length === 0
      ? null
      : {
          dli: lit.reduce((sum, one) => sum + one.dli, 0) / lit.length,
          par: Math.max(...lit.map((one) => one.par)),
        };
  const takenBy =
    other === undefined || other.code === null
      ? null
      : { code: other.code, goesToday: nextSteps(acclimation).some((next) => next.lotId === other.lotId) };
  const { dli = null, par = null } = light ?? {};
  return {
    move: { hasPlace: slots.length > 0 && slots.length === step.slotIds.length, takenBy, light },
    lots: lot === null ? [] : [{ lot, dli, par }],
  };
}

function turnsOf(acclimation: Acclimation, step: AcclimationStep, context: StepContext): StepEffect['lots'] {
  const percent = context.percents.get(step.lampId ?? '') ?? null;
  const scale = percent === null || percent <= 0 || step.percent === null ? null : step.percent / percent;
  return acclimation.lots.flatMap(({ id }) => {
    const lot = standingOf(acclimation, id, context);
    const now = context.lots.get(id)?.light.now ?? null;
    if (lot === null) return [];
    const known = scale !== null && now !== null;
    return [{ lot, dli: known ? now.dli * scale : null, par: known ? now.parMax * scale : null }];
  });
}

/** Why a step may not be done now; null when it may. */
export function stepHold(
  acclimation: Acclimation,
  step: AcclimationStep,
  context: StepContext,
): AcclimationHold | null {
  return acclimationHold(stepEffect(acclimation, step, context));
}
