import { capitalized } from '../../platform/words/capitals.ts';
import { readUnit, unitsOf } from '../../science/units.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import { type Quantity, unitName } from '../../water/quantities/quantities.ts';
import {
  awaitingAnswer,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  type QuestionList,
} from './questions.rules.ts';

/** A unit as the file writes it, understood; or what to ask about it. */
export type FileUnit = { unit: string; condition: string } | { question: string };

/** Units of other things that are typed for a unit of water: what the slip is, in words. */
const commonMistakes: readonly [RegExp, string][] = [
  [/^[uμµ]m(?!ol)($|\W)/i, '“um” is a micrometre, a length; a micromole is written umol.'],
  [/^mm($|[/\s.·*-])/i, '“mm” is a millimetre, a length; a millimole is written mmol.'],
  [/^%$|percent/i, 'A percentage says nothing without what it is a part of.'],
];

/**
 * The unit that a column's head or a cell names for a quantity. A temperature stated with a conductivity ("uS/cm at
 * 25C") is kept as its condition. Nothing is guessed: a unit that is none of the quantity's is asked about.
 */
export function parseFileUnit(text: string, quantityCode: string, farmUnit: string): FileUnit {
  const read = readUnit(text, quantityCode, farmUnit);
  if ('unit' in read) return { unit: read.unit, condition: conditionIn(text) };
  const slip = commonMistakes.find(([pattern]) => pattern.test(text.trim()))?.[1] ?? '';
  return { question: `${sentence(read.question)}${slip === '' ? '' : ` ${slip}`}` };
}

/** "at 25C" out of "uS/cm at 25C", as written. */
function conditionIn(text: string): string {
  return /(?:\bat|@)\s*\d.*$/i.exec(text)?.[0].trim() ?? '';
}

/** The units that an answer can choose from, as they are written for people. */
export function unitOptions(quantityCode: string): { value: string; text: string }[] {
  return unitsOf(quantityCode).map((unit) => ({ value: unit, text: unitName(quantityCode, unit) || unit }));
}

function sentence(text: string): string {
  return `${capitalized(text)}${/[.?]$/.test(text) ? '' : '.'}`;
}

type UnitAndCondition = { unit: string; condition: string };

/** Finds the unit of a cell: the one chosen for question `id`, else the one its text names, else it is asked, once. */
export type UnitReader = (
  quantity: Quantity,
  text: string,
  id: string,
  row: number,
) => UnitAndCondition | NotTaken;

export function unitReader(questions: QuestionList): UnitReader {
  const read = new Map<string, FileUnit>();
  return (quantity, text, id, row) => {
    const key = `${quantity.code} ${text}`;
    const unit = read.get(key) ?? parseFileUnit(text, quantity.code, quantity.displayUnit);
    read.set(key, unit);
    const chosen = questions.answerTo(id);
    if ('unit' in unit) return isUnit(quantity, chosen) ? { ...unit, unit: chosen } : unit;
    const answer = questions.ask(id, row, () => ({
      text: `Which unit of ${nameInSentence(quantity.name)} is “${text}”?`,
      hint: unit.question,
      choices: [...unitOptions(quantity.code), leaveOutChoice],
    }));
    if (answer === '') return awaitingAnswer;
    return answer === leaveOutValue ? leftOut : { unit: answer, condition: text };
  };
}

const isUnit = (quantity: Quantity, unit: string) => unit !== '' && unitsOf(quantity.code).includes(unit);
