import type { Figure } from '../../../platform/words/figures.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { nitrateNow } from '../../../water/demand/nutrient.rules.ts';
import { type NutrientFigures, nutrientFigures } from '../../../water/demand/nutrient-words.rules.ts';
import type { NitrateEstimate } from '../../../water/estimates/nitrate.rules.ts';
import { mixingLevels } from '../../../water/nutrients/mixing.rules.ts';
import { aimFigures, type NutrientAim, nutrientAim } from '../../../water/nutrients/plan.rules.ts';
import type { KindWish } from '../../../water/nutrients/target.rules.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { quantityNamed } from '../shared/words.ts';

/** What alerts on nitrate say of it: the figures and the plan of its pages, word for word. */
export interface NitrateSaid extends NutrientFigures {
  aim: NutrientAim;
  target: Figure;
  plan: Figure | null;
  /** All of them. */
  all: Figure[];
}

/** What the care of each lot in the water asks of nitrate. */
export const wishesOf = ({ lots }: Pick<SystemFacts, 'lots'>): KindWish[] =>
  lots.map(({ kindName, care: { nitrate } }) => ({
    kind: kindName,
    low: nitrate?.low ?? null,
    high: nitrate?.high ?? null,
  }));

/** The figures of an estimate and the plan that follows from it; null where the level is not known. */
export function nitrateSaid(facts: SystemFacts, estimate: NitrateEstimate, now: Date): NitrateSaid | null {
  const quantity = quantityNamed(facts, 'nitrate');
  const known = nitrateNow(
    { habit: estimate.state.habit, nitrate: estimate },
    dayOf(now),
    null,
    facts.readings.get('nitrate') ?? [],
  );
  const aim = nutrientAim('nitrate', known, facts.kept.get('nitrate'), mixingLevels(facts), wishesOf(facts));
  if (aim === null) return null;
  const figures = nutrientFigures(quantity, facts.systemId, known);
  const aimed = aimFigures(quantity, { id: facts.systemId, volumeL: facts.volumeL }, aim);
  const all = [...Object.values(figures), ...Object.values(aimed)].filter((figure) => figure !== null);
  return { ...figures, ...aimed, aim, all };
}
