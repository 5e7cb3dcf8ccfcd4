import type { Finding } from '../../../src/alerts/finding.ts';
import type { SystemFacts } from '../../../src/watch/facts/types.ts';
import type { Rule } from '../../../src/watch/rule-definition/rule.ts';
import { ruleNamed } from '../../../src/watch/rules/registry.ts';
import { FarmSettings } from '../../../src/watch/settings/settings.rules.ts';
import { dayZero, onDay } from '../../watch/facts.ts';

/** Numbers of the rules tried in place of their defaults: rule, then number. */
export type Tried = Readonly<Record<string, Readonly<Record<string, number>>>>;

/** The registered rule that is to find a trouble; undefined where the service has none yet. */
export const ruleFor = {
  creep: 'nitrate-creep',
  swing: 'alkalinity-unsteady',
  fall: 'alkalinity-falling',
  demand: 'demand-changed',
  kit: 'kit-biased',
  light: 'too-much-light',
} as const;

/** The rule with its defaults or what is tried, as a function of facts and day. */
export function evaluating(name: string, tried: Tried): (facts: SystemFacts, day: number) => Finding[] {
  const rule = ruleNamed(name) as Rule;
  const row = {
    rule: name,
    systemId: null,
    kindId: null,
    settings: tried[name] ?? {},
    reason: 'tried on the bench',
    at: onDay(0),
    who: null,
    scopeName: null,
  };
  const book = new FarmSettings([row]);
  return (facts, day) => rule.evaluate(facts, book.here(rule, facts.systemId), onDay(day - dayZero));
}

/** A rule's number as it holds on the bench. */
export const numberOf = (name: string, number: string, tried: Tried): number =>
  tried[name]?.[number] ?? ruleNamed(name)?.parameters[number]?.default ?? Number.NaN;
