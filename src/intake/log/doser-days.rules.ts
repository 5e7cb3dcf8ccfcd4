import { localDay } from '../../platform/days.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { comparable } from '../../water/dosing/dose-check.rules.ts';
import { productKey } from '../../water/dosing/product-effect.rules.ts';
import { awaitingAnswer, type QuestionList, questionId } from '../file/questions.rules.ts';
import type { FileDose, LogContext, LogLine } from './log-reader.rules.ts';

/**
 * Asks about doses of days that a doser's plan has booked already, once a system and product: are they the same doses? Both
 * counted, every use of the water would be twice the truth. A dry dose is not what a doser gives.
 */
export function askDoserDays(
  lines: readonly LogLine[],
  here: readonly FileDose[],
  { timeZone, systems }: Pick<LogContext, 'timeZone' | 'systems'>,
  questions: QuestionList,
): void {
  const booked = here.filter(({ doser }) => doser != null);
  if (booked.length === 0) return;
  const keyOf = ({ systemId, at }: FileDose) => `${systemId} ${localDay(at, timeZone)}`;
  const byDay = Map.groupBy(booked, keyOf);
  for (const line of lines) {
    const dose = line.parsed;
    if (line.state !== 'taken' || dose?.kind !== 'doses') continue;
    if (comparable(dose.amount, dose.unit).kind !== 'volume') continue;
    const own = byDay.get(keyOf(dose))?.find((other) => isSameThing(dose, other));
    if (own !== undefined) askOne(line, dose, own, systems, questions);
  }
}

const isSameThing = (one: FileDose, other: FileDose) =>
  productKey(one.substance) === productKey(other.substance) ||
  (one.quantityCode !== null && one.quantityCode === other.quantityCode);

function askOne(
  line: LogLine,
  { systemId, substance, amount, unit, at }: FileDose,
  own: FileDose,
  systems: LogContext['systems'],
  questions: QuestionList,
): void {
  const system = systems.find(({ id }) => id === systemId)?.name ?? '';
  const answer = questions.ask(
    questionId('doser', systemId, own.doser ?? '', productKey(substance)),
    line.row,
    () => ({
      text: `${system}: these days already hold ${numberWords(own.amount, 0)} mL a day by the doser “${own.doser}”. Are these doses of “${substance.trim()}” the same?`,
      hint: 'The plan of the doser logs them by itself. Counted twice, the water would seem to use twice as much.',
      choices: [
        { value: 'same', text: 'Yes, the same: leave these rows out' },
        { value: 'both', text: 'No, both went in: count both' },
      ],
    }),
    `${at.toISOString().slice(0, 10)}: ${numberWords(amount)} ${unit}`,
  );
  if (answer === '') Object.assign(line, { ...awaitingAnswer, parsed: null });
  if (answer === 'same')
    Object.assign(line, { state: 'present', reason: 'is logged by its doser already', parsed: null });
}
