import { alkalinityFalling } from './alkalinity-falling.ts';
import { alkalinityUnsteady } from './alkalinity-unsteady.ts';
import { calciumAlkalinity } from './calcium-alkalinity.ts';
import { conditionNoted } from './condition-noted.ts';
import { demandChanged } from './demand-changed.ts';
import { kitBiased } from './kit-biased.ts';
import { nitrateCreep } from './nitrate-creep.ts';
import type { Rule } from './rule.ts';
import { tooMuchLight } from './too-much-light.ts';

/** Every rule, in the order in which people find them. */
export const rules = [
  nitrateCreep,
  alkalinityUnsteady,
  alkalinityFalling,
  demandChanged,
  calciumAlkalinity,
  kitBiased,
  tooMuchLight,
  conditionNoted,
] as unknown as readonly Rule[];

/** The rule of this name. */
export const ruleNamed = (name: string): Rule | undefined => rules.find((rule) => rule.name === name);
