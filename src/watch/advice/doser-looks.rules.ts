import { type Act, type Advice, advised, measure, noted, notUp, source } from '../../alerts/advice.ts';
import { opposes } from '../../alerts/conflicts.rules.ts';
import type { Finding } from '../../alerts/finding.ts';
import { dayOf } from '../../science/numeric/time.ts';
import type { Action, ActionKind } from '../answers/actions.ts';
import { quantityOfAlert } from '../answers/answers.rules.ts';
import { mendWords } from '../answers/doser-findings.rules.ts';
import type { SystemFacts } from '../facts/types.ts';
import { nameOf } from '../rules/shared/words.ts';

interface Known {
  facts: SystemFacts;
  /** All of the system, oldest first. */
  actions: readonly Action[];
}

const looks: readonly ActionKind[] = ['doser well', 'doser righted', 'doser wrong'];

/**
 * Findings on water whose doser somebody found wrong. Until it gives its full amount again that comes first, and nothing is
 * dosed for it: doses that did not go in make the use look larger than it is, and no change of the use is told of them. Once it
 * does, a test after it comes first.
 */
export function withDoserLooks(findings: readonly Finding[], known: Known): Finding[] {
  const lookOf = (finding: Finding) => {
    const code = quantityOfAlert(finding, known.facts);
    return known.actions.findLast((one) => looks.includes(one.kind) && one.quantityCode === code);
  };
  const told = findings.filter((finding) => {
    const found = lookOf(finding)?.kind;
    return finding.rule !== 'demand-changed' || found === undefined || found === 'doser well';
  });
  return told.map((finding) => {
    const code = quantityOfAlert(finding, known.facts);
    if (code === null || !wantsMore(finding, code)) return finding;
    const look = lookOf(finding);
    if (look?.kind === 'doser wrong') return withSteps(finding, code, toMend(look, finding, code));
    if (look?.kind !== 'doser righted') return finding;
    return isTestedSince(look, code, known.facts)
      ? { ...finding, question: '' }
      : withSteps(finding, code, [toTest(nameOf(known.facts, code), code)]);
  });
}

/** Whether its advice looks at the doser, or doses more of it. */
const wantsMore = ({ advice }: Finding, code: string): boolean =>
  advice.some(({ asks, acts }) => asks === 'doser' || acts.some((act) => isMore(act, code)));

const isMore = (act: Act, code: string): boolean => opposes(act, notUp('dose', code));

const toMend = ({ name }: Action, { severity }: Finding, code: string): Advice[] => [
  noted(
    source(
      `${mendWords(name)} Measure what it gives in a minute against what it should. Say here when it gives its full amount again.`,
      notUp('dose', code),
    ),
    // Water that is in danger does not wait for a spare part.
    severity === 'now' ? 'If that takes more than an hour, go on by the steps under Report trouble.' : '',
  ),
];

const toTest = (name: string, code: string): Advice =>
  measure(
    `Test ${name} now that the doser gives its full amount again. Dose nothing more for this before that test.`,
    notUp('dose', code),
  );

const isTestedSince = ({ at }: Action, code: string, { readings }: SystemFacts): boolean =>
  (readings.get(code) ?? []).some(({ day }) => day > dayOf(at));

/** What was asked, less the look at the doser, all that doses more of it, and whether a bottle reads wrong: the doser explains it. */
function withSteps(finding: Finding, code: string, steps: readonly Advice[]): Finding {
  const left = finding.advice.filter(
    ({ asks, acts }) => asks !== 'doser' && asks !== 'standard' && !acts.some((act) => isMore(act, code)),
  );
  return { ...finding, ...advised(...steps, ...left), question: '' };
}
