import { accustomedLight, daysUntilAccustomed } from '../../science/light/accustomed.ts';
import type { LotFact } from '../facts/types.ts';

/** How the light a lot stands in relates to what it bears. */
export interface LightStress {
  /** At full light, umol/(m2 s), and whether it is scaled to another lamp setting. */
  par: number;
  error: number;
  estimated: boolean;
  /** What it is used to, as light at full light under the same lamps. */
  accustomedPar: number;
  ratio: number;
  /** What it bears: the lower of the ceiling and the step from what it is used to. */
  bearsPar: number;
  by: 'ceiling' | 'step';
  source: string;
  /** Light over what it bears, 1 at the limit. */
  excess: number;
  /** Day since which this light lasts. */
  sinceDay: number;
  /** Days until it is used to within 5 %. */
  adaptsIn: number;
}

/** Adaptation where the kind's care does not say: common practice. */
const usualAdaptationDays = 10;

/**
 * Light against the kind's ceiling, and the daily dose against what the lot is accustomed to times the kind's step
 * ratio; null where the light or both figures are not known.
 */
export function lightStress({ light, care }: LotFact, today: number): LightStress | null {
  const now = light.at(-1);
  if (now === undefined || now.par <= 0 || now.dli <= 0) return null;
  const days = care.adaptationDays?.days ?? usualAdaptationDays;
  const history = light.map(({ fromDay, dli }) => ({ fromDay, dailyLight: dli }));
  const accustomed = accustomedLight(history, days, history[0]?.dailyLight ?? 0, today);
  const accustomedPar = (accustomed / now.dli) * now.par;
  const limits = [
    ...(care.ceiling === null
      ? []
      : [{ par: care.ceiling.par, by: 'ceiling' as const, source: care.ceiling.source }]),
    ...(care.stepRatio === null
      ? []
      : [
          {
            par: accustomedPar * care.stepRatio.ratio,
            by: 'step' as const,
            source: `${care.stepRatio.ratio} times what it is used to: ${care.stepRatio.source}`,
          },
        ]),
  ].sort((a, b) => a.par - b.par);
  const [lowest] = limits;
  if (lowest === undefined) return null;
  return {
    par: now.par,
    error: now.error,
    estimated: now.estimated,
    accustomedPar,
    ratio: now.dli / accustomed,
    bearsPar: lowest.par,
    by: lowest.by,
    source: lowest.source,
    excess: now.par / lowest.par,
    sinceDay: now.fromDay,
    adaptsIn: daysUntilAccustomed(accustomed, now.dli, days, 0.05),
  };
}
