import type { Severity } from '../../../alerts/finding.ts';
import { accustomedLight, daysUntilAccustomed } from '../../../science/light/accustomed.ts';
import {
  DEFAULT_ADAPTATION_DAYS,
  initialLight,
  isKnownLongEnough,
} from '../../../stock/light/accustomed.rules.ts';
import type { LotFact } from '../../facts/types.ts';
import { isPlannedLight } from './planned-step.ts';

/** How the light a lot stands in relates to what it can take. */
export interface LightStress {
  /** At full light, umol/(m2 s), and whether it is scaled to another lamp setting. */
  par: number;
  error: number;
  estimated: boolean;
  /** What it is used to, as light at full light under the same lamps. */
  accustomedPar: number;
  /** The light it had before this one, umol/(m2 s); null where that was not measured. */
  parBefore: number | null;
  /** False where its light was not known for long enough to say what it is used to. */
  knownBefore: boolean;
  ratio: number;
  /** What it can take: the lower of the ceiling and the step from what it is used to. */
  bearsPar: number;
  by: 'ceiling' | 'step';
  source: string;
  /** Light over what it can take, 1 at the limit. */
  excess: number;
  /** Standard error of that as a share of it, by the surveys that both sides of a step rest on; 0 against the ceiling. */
  doubt: number;
  /** What it comes to with 9 chances in 10, the highest over both limits. */
  clear: number;
  /** Day since which this light lasts. */
  sinceDay: number;
  /** Days until it is used to within 5 %. */
  adaptsIn: number;
}

/** A lot that stands in more light than it can take, with how it looks. */
export interface StressedLot {
  lot: LotFact;
  stress: LightStress;
  shows: LotFact['conditions'][number] | null;
  severity: Severity;
  status: 'fires' | 'stays';
  score: number;
}

/** The daily light a lot is accustomed to, mol/(m2 d), and its time constant; null where its light is not known. */
export function accustomedLightOf(
  { light, care, acclimation }: LotFact,
  today: number,
): { dli: number; days: number } | null {
  const [first] = light;
  if (first === undefined) return null;
  const days = care.adaptationDays?.days ?? DEFAULT_ADAPTATION_DAYS;
  const history = light.map(({ fromDay, dli }) => ({ fromDay, dailyLight: dli }));
  return { dli: accustomedLight(history, days, initialLight(acclimation, first), today), days };
}

/**
 * Light against the kind's ceiling, and the daily dose against what the lot is accustomed to times the kind's step
 * ratio; null where the light or both figures are not known. A step that its acclimation plans is no step too far.
 */
export function lightStress(lot: LotFact, today: number): LightStress | null {
  const { light, care, acclimation } = lot;
  const now = light.at(-1);
  const known = accustomedLightOf(lot, today);
  if (now === undefined || known === null || now.par <= 0 || now.dli <= 0) return null;
  const { dli: accustomed, days } = known;
  const accustomedPar = (accustomed / now.dli) * now.par;
  const planned = acclimation !== null && isPlannedLight(acclimation, now.dli, today);
  const limits: Limit[] = [];
  if (care.ceiling !== null)
    limits.push({ par: care.ceiling.par, by: 'ceiling', source: care.ceiling.source, doubt: 0 });
  if (care.stepRatio !== null && !planned)
    limits.push({
      par: accustomedPar * care.stepRatio.ratio,
      by: 'step',
      source: `${care.stepRatio.ratio} times ${isUsedToKnown(lot, today) ? 'what it is used to' : 'the light it had so far'}: ${care.stepRatio.source}`,
      doubt: doubtOfStep(light, known, today),
    });
  const [lowest] = limits.sort((a, b) => a.par - b.par);
  if (lowest === undefined) return null;
  return {
    par: now.par,
    error: now.error,
    estimated: now.estimated,
    accustomedPar,
    parBefore: light.at(-2)?.par ?? null,
    knownBefore: isUsedToKnown(lot, today),
    ratio: now.dli / accustomed,
    bearsPar: lowest.par,
    by: lowest.by,
    source: lowest.source,
    excess: now.par / lowest.par,
    doubt: lowest.doubt,
    clear: Math.max(...limits.map(({ par, doubt }) => clearExcess(now.par / par, doubt))),
    sinceDay: now.fromDay,
    adaptsIn: daysUntilAccustomed(accustomed, now.dli, days, 0.05),
  };
}

/**
 * Whether it is known what a lot is used to: its light was known for as long as it takes to get used to it, or it came with
 * a stated light. A first light is what it is used to only once it has lasted for so long that no other could matter.
 */
export function isUsedToKnown({ light, care, acclimation }: LotFact, today: number): boolean {
  const [first] = light;
  if (first === undefined) return false;
  const days = care.adaptationDays?.days ?? DEFAULT_ADAPTATION_DAYS;
  const needed = light.length === 1 ? settled * days : days;
  return isKnownLongEnough(first.fromDay, today, needed, acclimation !== null);
}

/** Time constants after which a lot is used to a light within 5 % (first-order adaptation). */
const settled = 3;

interface Limit {
  par: number;
  by: LightStress['by'];
  source: string;
  doubt: number;
}

/** One side in 9 of 10 cases: of 19 in 20, more than half of lots at nearly twice what they are used to went untold. */
const surely = 1.28;

/** What an excess of that doubt comes to at least, with 9 chances in 10. */
export const clearExcess = (excess: number, doubt: number): number => excess * (1 - surely * doubt);

/**
 * Relative standard error of the light now over what the lot is used to: that of both surveys, for the part of what it is
 * used to that it had before. Light that is only scaled from one survey to another setting of the lamps has its error on
 * both sides, where it cancels.
 */
function doubtOfStep(
  light: LotFact['light'],
  { dli, days }: { dli: number; days: number },
  today: number,
): number {
  const [before, now] = light.slice(-2);
  if (before === undefined || now === undefined || before.par <= 0) return 0;
  const [was, is] = [before.error / before.par, now.error / now.par];
  if ((before.estimated || now.estimated) && Math.abs(was - is) <= 1e-6 * is) return 0;
  const adapted = -Math.expm1(-(today - now.fromDay) / days);
  return Math.max(0, 1 - (adapted * now.dli) / dli) * Math.hypot(was, is);
}
