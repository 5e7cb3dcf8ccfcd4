import type { Rule } from '../rule-definition/rule.ts';
import { alkalinityFalling } from './alkalinity/alkalinity-falling.ts';
import { alkalinityUnsteady } from './alkalinity/alkalinity-unsteady.ts';
import { outOfBand } from './bands/out-of-band.ts';
import { ammonia } from './chemistry/ammonia.ts';
import { heatStress } from './chemistry/heat-stress.ts';
import { movingTogetherRule } from './chemistry/moving-together.ts';
import { overdose } from './chemistry/overdose.ts';
import { precipitation } from './chemistry/precipitation.ts';
import { saturation } from './chemistry/saturation.ts';
import { sinkingFast } from './chemistry/sinking-fast.ts';
import { warmingFast } from './chemistry/warming-fast.ts';
import { calciumAlkalinity } from './demand/calcium-alkalinity.ts';
import { demandChanged } from './demand/demand-changed.ts';
import { deviceSilent } from './instruments/device-silent.ts';
import { kitBiased } from './instruments/kit-biased.ts';
import { kitMissing } from './instruments/kit-missing.ts';
import { kitUnfit } from './instruments/kit-unfit.ts';
import { probeFaulty } from './instruments/probe-faulty.ts';
import { probeOrHand } from './instruments/probe-or-hand.ts';
import { lightStep } from './light/light-step.ts';
import { surveyOutdated } from './light/survey-outdated.ts';
import { tooLittleLight } from './light/too-little-light.ts';
import { tooMuchLight } from './light/too-much-light.ts';
import { affectedShare } from './lots/affected-share.ts';
import { conditionNoted } from './lots/condition-noted.ts';
import { cutBatch } from './lots/cut-batch.ts';
import { lightening } from './lots/lightening.ts';
import { lossesAboveUsual } from './lots/losses-above-usual.ts';
import { pestInWater } from './lots/pest-in-water.ts';
import { rackShiftRule } from './lots/rack-shift.ts';
import { recovering } from './lots/recovering.ts';
import { tissueLoss } from './lots/tissue-loss.ts';
import { nitrateCreep } from './nitrate/nitrate-creep.ts';
import { nitrateLevel } from './nitrate/nitrate-level.ts';
import { flowUnsuited } from './places/flow-unsuited.ts';
import { jetOnFlesh } from './places/jet-on-flesh.ts';
import { looseInFlow } from './places/loose-in-flow.ts';
import { neighboursInReach } from './places/neighbours-in-reach.ts';
import { siltRisk } from './places/silt-risk.ts';
import { equipmentFault } from './work/equipment-fault.ts';
import { lookOverdue } from './work/look-overdue.ts';
import { overdue } from './work/overdue.ts';
import { stillOff } from './work/still-off.ts';

/** Every rule, in the order in which people find them. */
export const rules = [
  nitrateCreep,
  nitrateLevel,
  alkalinityUnsteady,
  alkalinityFalling,
  outOfBand,
  sinkingFast,
  warmingFast,
  movingTogetherRule,
  overdose,
  precipitation,
  saturation,
  ammonia,
  heatStress,
  demandChanged,
  calciumAlkalinity,
  kitBiased,
  kitUnfit,
  kitMissing,
  deviceSilent,
  probeFaulty,
  probeOrHand,
  equipmentFault,
  stillOff,
  lookOverdue,
  overdue,
  tooMuchLight,
  lightStep,
  tooLittleLight,
  surveyOutdated,
  jetOnFlesh,
  flowUnsuited,
  siltRisk,
  looseInFlow,
  neighboursInReach,
  tissueLoss,
  cutBatch,
  affectedShare,
  lossesAboveUsual,
  pestInWater,
  conditionNoted,
  lightening,
  rackShiftRule,
  recovering,
] as unknown as readonly Rule[];

/** The rule of this name. */
export const ruleNamed = (name: string): Rule | undefined => rules.find((rule) => rule.name === name);

/** A rule's name for people; its plain name where it is a rule no longer. */
export const headingOf = (name: string): string => ruleNamed(name)?.heading ?? name;
