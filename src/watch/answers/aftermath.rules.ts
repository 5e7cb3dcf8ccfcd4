import type { Aftermath, AftermathState, FoundWords, OpenAlert } from '../../alerts/diff.rules.ts';
import type { Answer } from '../../alerts/finding.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { whenWords } from '../../platform/words/times.ts';
import type { SystemFacts } from '../facts/types.ts';
import { ruleNamed } from '../rules/registry.ts';
import type { Action } from './actions.ts';
import { answerTo } from './answers.rules.ts';

/** What is known of a system's open alerts beside what the rules find. */
export function aftermathOf(facts: SystemFacts, actions: readonly Action[], now: Date): Aftermath {
  const when = (at: string | Date) => whenWords(at, facts.timeZone, now);
  return {
    endedBecause: (alert: OpenAlert) =>
      ruleNamed(alert.rule)?.ended(facts, alert, now) ?? 'it is no longer found',
    answerTo: (alert, found) => answerTo(alert, { facts, actions, found, now }),
    words: (state) => wordsOf(state, when),
  };
}

type When = (at: string | Date) => string;

function wordsOf({ found, answer, ended, clearsAt }: AftermathState, when: When): FoundWords {
  const why = ended === null ? found.why : sentence(ended);
  if (answer === null || answer.confirmedAt !== null) {
    const until = clearsAt === null ? '' : `: it clears by itself on ${when(clearsAt)} if it stays so`;
    const title = `No longer found: ${found.title}`;
    return { title, numbers: '', why, firstStep: `Nothing more to do${until}.` };
  }
  const { overdue } = answer;
  return {
    title: `${overdue ? 'Acted on, confirmation overdue' : 'Acted on, to be confirmed'}: ${found.title}`,
    numbers: ended === null ? found.numbers : '',
    why,
    firstStep: stepOf(answer, when),
  };
}

const stepOf = ({ confirm, dueAt, overdue }: Answer, when: When): string =>
  overdue
    ? `Do today what was due ${when(dueAt)} and is missing: ${confirm}. Nobody knows before whether it helped.`
    : `Wait for what shows whether it helped: ${confirm}, by ${when(dueAt)}. Do not do the same again before.`;

const sentence = (text: string) => `${capitalized(text)}.`;
