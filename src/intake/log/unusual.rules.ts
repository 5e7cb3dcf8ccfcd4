import { median } from 'd3-array';
import { numberWords } from '../../platform/words/numbers.ts';
import { dayMs, hourMs } from '../../science/numeric/time.ts';
import { type DoseContext, doseOutlook, type PastDose } from '../../water/dosing/dose-check.rules.ts';
import {
  awaitingAnswer,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type QuestionList,
  questionId,
} from '../file/questions.rules.ts';
import type { FileChange, FileDose, FileFeeding, LogContext, LogLine } from './log-reader.rules.ts';

type LineOf<Entry> = LogLine & { parsed: Entry };
const linesOf = <Entry extends { kind: string }>(lines: readonly LogLine[], kind: Entry['kind']) =>
  lines.filter(
    (line): line is LogLine & LineOf<Entry & NonNullable<LogLine['parsed']>> =>
      line.state === 'taken' && line.parsed?.kind === kind,
  );

/** A dose that is here already, with its system. */
export type KnownDose = PastDose & { systemId: string };

/** Doses so many days before and after one are compared with it; own choice. */
const aroundDays = 15;
/** Later doses of the same day count to it as the check of typed doses has it. */
const sameDayMs = 4 * hourMs;

/**
 * Asks about doses that would want a reason if they were typed: far more than the usual amount, more than the daily cap.
 * A file knows what came after as well, so the first of its doses are compared with those that follow. Whether a dose led
 * out of the band is not asked: the band is that of today.
 */
export async function askUnusualDoses(
  lines: readonly LogLine[],
  known: readonly KnownDose[],
  { quantities, timeZone, systems }: LogContext,
  questions: QuestionList,
  breathe: () => Promise<void> | undefined,
): Promise<void> {
  const bySystem = Map.groupBy(linesOf<FileDose>(lines, 'doses'), (line) => line.parsed.systemId);
  for (const [systemId, own] of bySystem) {
    const name = systems.find(({ id }) => id === systemId)?.name ?? '';
    const taken = new Map(own.map((line) => [line, asPast(line.parsed)]));
    const before = known.filter((dose) => dose.systemId === systemId);
    const all = [...before, ...taken.values()].sort((a, b) => a.at.getTime() - b.at.getTime());
    let from = 0;
    for (const [line, dose] of [...taken].sort(([, a], [, b]) => a.at.getTime() - b.at.getTime())) {
      while ((all[from]?.at.getTime() ?? 0) < dose.at.getTime() - aroundDays * dayMs) from += 1;
      const context = contextOf(dose, around(all, from, dose), quantities, timeZone);
      const { concerns } = doseOutlook(dose, context, 'log');
      if (concerns.length > 0) {
        dose.habit = false;
        if (line.parsed.reason === '') askDose(line, concerns, name, questions);
        if (line.parsed !== null) line.parsed.concerns = concerns;
      }
      await breathe();
    }
  }
}

const asPast = ({ at, substance, amount, unit, quantityCode, effect }: FileDose): PastDose => ({
  ...{ at, substance, amount, unit, quantityCode },
  rise: effect,
  habit: true,
});

function around(all: readonly PastDose[], from: number, dose: PastDose): PastDose[] {
  const found: PastDose[] = [];
  const until = dose.at.getTime() + aroundDays * dayMs;
  for (let i = from; i < all.length && (all[i] as PastDose).at.getTime() <= until; i++)
    if (all[i] !== dose) found.push(all[i] as PastDose);
  return found;
}

/** What follows stands in for a habit that the days before do not show yet: as far back as it lies ahead, and a day more. */
function contextOf(
  dose: PastDose,
  near: readonly PastDose[],
  quantities: LogContext['quantities'],
  timeZone: string,
): DoseContext {
  const at = dose.at.getTime();
  const isLater = (other: PastDose) => other.at.getTime() - at > sameDayMs;
  const hasHabit = near.some((other) => at - other.at.getTime() > 2 * dayMs && other.habit);
  const mirrored = (other: PastDose) => ({
    ...other,
    at: new Date(at - (other.at.getTime() - at) - dayMs / 2),
  });
  const past = hasHabit ? near : near.map((other) => (isLater(other) ? mirrored(other) : other));
  const quantity = quantities.find(({ code }) => code === dose.quantityCode) ?? null;
  const none = { planned: null, level: null, disagreement: null, dailyCap: null };
  return { ...none, past, quantity, band: { low: null, high: null }, timeZone };
}

/** Amounts of one power of ten are asked about together: a slip of the point and a large dose are two questions. */
const tens = (amount: number) => String(Math.floor(Math.log10(amount)));

function askDose(
  line: LineOf<FileDose>,
  concerns: readonly string[],
  system: string,
  questions: QuestionList,
) {
  const { substance, amount, unit, systemId } = line.parsed;
  const id = questionId('unusual', systemId, substance.toLowerCase(), tens(amount), unit);
  const answer = questions.ask(
    id,
    line.row,
    () => ({
      text: `Unusual doses of ${substance} in ${system}: were they so?`,
      hint: 'Check the decimal point and the unit. Those that are taken are kept as confirmed by you.',
      choices: [{ value: 'take', text: 'Yes, they were dosed so' }, leaveOutChoice],
    }),
    `row ${line.row}: ${numberWords(amount)} ${unit}. ${concerns.join(' ')}`,
  );
  if (answer === 'take') line.parsed.reason = 'Confirmed when its file was taken.';
  else leave(line, answer);
}

const leave = (line: LogLine, answer: string) =>
  Object.assign(line, { ...(answer === leaveOutValue ? leftOut : awaitingAnswer), parsed: null });

/** So many times the usual of a file is asked about, as for doses; own choice. */
const manyTimes = 5;
/** A larger part of the water in one go is asked about; own choice. */
const largePart = 0.6;

/** Asks about water changes of most of the system, and of many times the usual of the file. */
export function askLargeChanges(
  lines: readonly LogLine[],
  { systems }: LogContext,
  questions: QuestionList,
): void {
  const bySystem = Map.groupBy(linesOf<FileChange>(lines, 'water_changes'), (line) => line.parsed.systemId);
  for (const [systemId, own] of bySystem) {
    const system = systems.find(({ id }) => id === systemId);
    const usual = median(own, (line) => line.parsed.volumeL) ?? 0;
    for (const line of own) {
      const { volumeL } = line.parsed;
      if (system === undefined) continue;
      if (volumeL <= largePart * system.volumeL && volumeL < manyTimes * usual) continue;
      const answer = questions.ask(
        questionId('large-change', systemId),
        line.row,
        () => ({
          text: `Large water changes in ${system.name} (${numberWords(system.volumeL)} L): were they so?`,
          hint: `${numberWords(usual)} L is usual in this file. Check the unit and the decimal point.`,
          choices: [{ value: 'take', text: 'Yes, so much was changed' }, leaveOutChoice],
        }),
        `row ${line.row}: ${numberWords(volumeL)} L`,
      );
      if (answer !== 'take') leave(line, answer);
    }
  }
}

/** Asks about feedings of many times the usual amount of the same food. */
export function askLargeFeedings(lines: readonly LogLine[], questions: QuestionList): void {
  const byFood = Map.groupBy(
    linesOf<FileFeeding>(lines, 'feedings'),
    (line) => `${line.parsed.systemId} ${line.parsed.food.toLowerCase()}`,
  );
  for (const own of byFood.values()) {
    const usual = median(own, (line) => line.parsed.amountG ?? undefined) ?? 0;
    for (const line of own) {
      const { amountG, food } = line.parsed;
      if (amountG === null || amountG < manyTimes * usual) continue;
      const answer = questions.ask(
        questionId('large-feeding', food.toLowerCase()),
        line.row,
        () => ({
          text: `Large feedings of ${food}: were they so?`,
          hint: `${numberWords(usual)} g is usual in this file. Check the unit and the decimal point.`,
          choices: [{ value: 'take', text: 'Yes, so much was fed' }, leaveOutChoice],
        }),
        `row ${line.row}: ${numberWords(amountG)} g`,
      );
      if (answer !== 'take') leave(line, answer);
    }
  }
}
