import type { OpenAlert } from '../../alerts/diff.rules.ts';
import type { Finding } from '../../alerts/finding.ts';
import { boundByItsLimit } from '../../alerts/unchecked.rules.ts';
import type { SystemFacts } from '../facts/types.ts';
import type { ParameterSet, Values } from './parameters.ts';

/**
 * A rule's numbers as they hold in the system, or there for one kind (the kind and its parents, nearest first). What
 * asks whether another rule tells asks by that rule's numbers there (`of`), not by its usual ones.
 */
export interface SettingsFor<K extends ParameterSet> {
  (kindIds?: readonly string[]): Values<K>;
  of<Other extends ParameterSet>(rule: Pick<Rule<Other>, 'name' | 'parameters'>): SettingsFor<Other>;
}

/** An alert of which its rule finds nothing any more. */
export type EndedAlert = Pick<OpenAlert, 'subject' | 'facet' | 'openedAt' | 'finding'>;

/**
 * One thing the watch looks for. `evaluate` is pure: the same facts, settings and time give the same findings, so
 * that a change of a limit can be tried on the past.
 */
export interface Rule<K extends ParameterSet = ParameterSet> {
  /** Its name in the database and in addresses. */
  name: string;
  /** Its name for people. */
  heading: string;
  /** What it watches, in words. */
  watches: string;
  /** Whether its numbers can also be set for a kind. */
  byKind: boolean;
  parameters: K;
  /** An alert clears when nothing was found for this long. */
  quietHours: number;
  /** It judges a habit learnt over weeks, which is learnt anew after an event: then its alert says nothing any longer. */
  learns?: true;
  /** Why it cannot be tried on the past, where it cannot. */
  untried?: string;
  /** The fact that ended one of its alerts, in words that go on after "cleared:"; asked when it finds nothing any more. */
  ended(facts: SystemFacts, alert: EndedAlert, now: Date): string;
  evaluate(facts: SystemFacts, settings: SettingsFor<K>, now: Date): Finding[];
}

/** Keeps the names of the numbers in the rule's type, and its urgency within what its limits' sources bear. */
export const defineRule = <const K extends ParameterSet>(rule: Rule<K>): Rule<K> => ({
  ...rule,
  evaluate: (facts, settings, now) => rule.evaluate(facts, settings, now).map(boundByItsLimit),
});
