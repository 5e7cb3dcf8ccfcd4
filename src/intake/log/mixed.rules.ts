import { normalizeName } from '../file/names.rules.ts';
import {
  awaitingAnswer,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  type QuestionList,
} from '../file/questions.rules.ts';
import { type LogLayout, saysWhat } from './columns.rules.ts';
import { type LogKind, logKindWords } from './kinds.rules.ts';

/** How rows of a log say that they are water changes or feedings, in six languages (common practice). */
const words: Partial<Record<LogKind, RegExp>> = {
  water_changes:
    /^(?:partial )?(?:water ?changes?|w ?[/.]? ?c|ww|wasserwechsel|changements? d.eau|cambios? de agua|cambi[oi] d.acqua|waterwissel\p{L}*)(?!\p{L})/iu,
  feedings:
    /^(?:fed|feed(?:ing|ings|s)?|fütter\p{L}*|gefüttert|futter|nourri\p{L}*|nourrissage|aliment(?:aci|azi)\p{L}*|gevoerd|voeding)(?!\p{L})/iu,
};

const kindSaid = (text: string): LogKind =>
  (['water_changes', 'feedings'] as const).find((kind) => words[kind]?.test(text.trim())) ?? 'doses';

/** Whether a text reads like another kind of entry, in a list that holds these kinds. */
function isOther(text: string, kind: LogKind, held: ReadonlySet<LogKind>): boolean {
  const said = kindSaid(text);
  if (kind === 'upkeep' || said === kind) return false;
  if (kind === 'doses') return true;
  // Without a word for it among the rows, the column says something else of them. A food may well be called a feed.
  if (kind === 'water_changes') return held.has(kind);
  return said === 'water_changes' || (held.has(kind) && held.has('water_changes'));
}

/**
 * Looks for rows of another kind in a list that holds several: a water change is no dose, whatever file it stands in.
 * Answers for a row whether it is taken; null: it is.
 */
export function otherKinds(
  kind: LogKind,
  layout: LogLayout,
  body: readonly (readonly string[])[],
  questions: QuestionList,
): (row: readonly string[], number: number) => NotTaken | null {
  const column = layout.columns.findIndex((one) => saysWhat(one, normalizeName(one.head)));
  const held = new Set(body.map((row) => kindSaid(row[column] ?? '')));
  return (row, number) => {
    const text = row[column] ?? '';
    if (text === '' || !isOther(text, kind, held)) return null;
    const answer = questions.ask('other-kind', number, () => question(kind), `“${text.slice(0, 60)}”`);
    if (answer === '') return awaitingAnswer;
    return answer === leaveOutValue ? leftOut : null;
  };
}

const question = (kind: LogKind) => ({
  text: `Some rows read like something else than ${logKindWords[kind].many}. What are they?`,
  hint: 'A list of several kinds is brought once for each kind, and the other rows are left out.',
  choices: [leaveOutChoice, { value: 'take', text: `${logKindWords[kind].name} anyway` }],
});
