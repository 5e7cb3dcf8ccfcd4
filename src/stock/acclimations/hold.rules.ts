import { numberWords } from '../../platform/words/numbers.ts';
import { daysUntilBearable, withinStep } from './pace.rules.ts';

/** How one lot stands before a step. */
export interface LotStanding {
  code: string;
  pieces: number;
  /** Daily light it is used to and gets now, mol/(m2 d); null where not known. */
  used: number | null;
  /** False where `used` is only what the plan counts on: what the lot is used to is not known. */
  isUsedKnown: boolean;
  light: number | null;
  adaptationDays: number;
  /** Days on which it was found well, one after another, since it was last found unwell within the plan. */
  wellDays: number;
  parCeiling: number | null;
}

/** What a step would bring about. */
export interface StepEffect {
  pauseReason: string | null;
  maxStepRatio: number;
  /** True for a raise within a recovery. */
  raisesRecovery: boolean;
  /** The place of a move; null for lamps. */
  move: {
    hasPlace: boolean;
    /** Who stands there. */
    takenBy: { code: string; goesToday: boolean } | null;
    light: { dli: number; par: number } | null;
  } | null;
  /** The lots it moves, or that stand beneath the lamps, with the daily light and the PAR each comes to. */
  lots: readonly { lot: LotStanding; dli: number | null; par: number | null }[];
}

/** Why a step may not be done now, and what would help. */
export interface AcclimationHold {
  words: string;
  todo: 'resume' | 'choose' | 'wait' | 'look' | 'leave-out';
}

/** Looks on two days that found a recovering lot well, before it is raised (own choice). */
export const WELL_DAYS = 2;

/** Past rounding: light at a place is known within some per cent at best. */
const SLACK = 1.02;

/** Why a step is held back; null when it may be done. The first reason that a person would have to mend counts. */
export function acclimationHold(effect: StepEffect): AcclimationHold | null {
  if (effect.pauseReason !== null)
    return {
      words: `Paused: ${effect.pauseReason}. Look at it, then resume the plan or take a step back.`,
      todo: 'resume',
    };
  return placeHold(effect) ?? lotHold(effect);
}

function placeHold({ move, lots }: StepEffect): AcclimationHold | null {
  const code = lots[0]?.lot.code ?? '';
  if (lots.length > 0 && lots.every(({ lot }) => lot.pieces === 0))
    return { words: `No pieces of ${code} are left. Leave the step out.`, todo: 'leave-out' };
  if (move === null) return null;
  if (!move.hasPlace)
    return {
      words:
        'No free place of this light was found. Choose one on the plan, shade a brighter one, or leave the step out.',
      todo: 'choose',
    };
  if (move.takenBy === null) return null;
  const { code: other, goesToday } = move.takenBy;
  return goesToday
    ? { words: `${other} is there until its own step is done. Do that one first.`, todo: 'wait' }
    : { words: `${other} is there. Choose another place on the plan, or move it first.`, todo: 'choose' };
}

function lotHold({ lots, maxStepRatio, raisesRecovery }: StepEffect): AcclimationHold | null {
  const unwell = raisesRecovery ? lots.find(({ lot }) => lot.wellDays < WELL_DAYS) : undefined;
  if (unwell !== undefined)
    return {
      words: `${unwell.lot.code} is raised only after it was found well on ${WELL_DAYS} days; so far on ${unwell.lot.wellDays === 0 ? 'none' : unwell.lot.wellDays}. Record condition.`,
      todo: 'look',
    };
  const over = lots.find(
    ({ lot, par }) => lot.parCeiling !== null && par !== null && par > lot.parCeiling * SLACK,
  );
  if (over !== undefined)
    return {
      words: `${par(over.par)} µmol/(m² s) is above ${par(over.lot.parCeiling)}, the most ${over.lot.code} can take. Choose a dimmer place.`,
      todo: 'choose',
    };
  return lightHold(lots, maxStepRatio);
}

const par = (value: number | null) => numberWords(Math.round(value ?? 0));

function lightHold(lots: StepEffect['lots'], maxStepRatio: number): AcclimationHold | null {
  const large = lots.flatMap(({ lot, dli }) => {
    if (dli === null || lot.used === null || lot.used <= 0) return [];
    const isLarge = dli > lot.used && !withinStep(dli, lot.used * SLACK, maxStepRatio);
    return isLarge ? [{ lot, dli, times: dli / lot.used }] : [];
  });
  const [worst] = large.sort((a, b) => b.times - a.times);
  if (worst === undefined) return null;
  const { lot, dli, times } = worst;
  const days = daysUntilBearable(lot.used as number, lot.light, dli, {
    stepRatio: maxStepRatio,
    adaptationDays: lot.adaptationDays,
  });
  const wait =
    days === null || days > 120
      ? 'It will not get used to it where it is: put a step between, or choose a dimmer place.'
      : `In its present light it is used to enough in about ${Math.max(1, Math.ceil(days))} ${Math.ceil(days) <= 1 ? 'day' : 'days'}.`;
  return {
    words: `For ${lot.code} it would now be ${numberWords(Number(times.toPrecision(3)))} times ${lot.isUsedKnown ? 'what it is used to' : 'the light the plan counts on (what it is used to is not known)'}; it takes ${numberWords(maxStepRatio)}. ${wait}`,
    todo: days === null || days > 120 ? 'choose' : 'wait',
  };
}
