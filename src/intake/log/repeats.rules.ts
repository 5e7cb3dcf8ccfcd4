import { comparable } from '../../water/dosing/dose-check.rules.ts';
import { awaitingAnswer, leaveOutChoice, leftOut, type QuestionList } from '../file/questions.rules.ts';
import type { FileEntry, LogLine } from './log-reader.rules.ts';

const sixDigits = (value: number | null) => (value === null ? '' : String(Number(value.toPrecision(6))));

/** What makes two entries the same: the second, the thing, and the amount to six digits. */
export function entryKey(entry: FileEntry): string {
  const at = Math.floor(entry.at.getTime() / 1000);
  switch (entry.kind) {
    case 'doses': {
      const { kind, amount } = comparable(entry.amount, entry.unit);
      return [entry.systemId, at, entry.substance.trim().toLowerCase(), sixDigits(amount), kind].join('|');
    }
    case 'water_changes':
      return [entry.systemId, at, sixDigits(entry.volumeL)].join('|');
    case 'feedings':
      return [
        entry.systemId,
        at,
        entry.food.trim().toLowerCase(),
        sixDigits(entry.amountG),
        entry.tankId ?? '',
      ].join('|');
    case 'upkeep':
      return [entry.equipmentId ?? entry.circuitId, at, entry.work].join('|');
  }
}

/**
 * Marks the lines whose entry is here already, and asks about those that say the same as an earlier row: two doses of
 * one day are two, a row copied by mistake is one.
 */
export function markRepeats(
  lines: readonly LogLine[],
  present: ReadonlyMap<string, number>,
  questions: QuestionList,
): void {
  const seen = new Map<string, { times: number; row: number }>();
  for (const line of lines) {
    if (line.parsed === null || line.state !== 'taken') continue;
    const key = entryKey(line.parsed);
    const before = seen.get(key) ?? { times: 0, row: line.row };
    seen.set(key, { times: before.times + 1, row: before.row });
    if (before.times < (present.get(key) ?? 0)) Object.assign(line, presentAlready);
    else if (before.times > 0) askRepeat(line, before.row, questions);
  }
}

const presentAlready = { state: 'present', reason: 'is here already', parsed: null } as const;

function askRepeat(line: LogLine, firstRow: number, questions: QuestionList): void {
  const answer = questions.ask(
    'repeat',
    line.row,
    () => ({
      text: 'Some rows say the same as an earlier one, of the same time. Was each of them done?',
      hint: 'Two doses on one day are two; a row that was copied twice is one.',
      choices: [
        { value: 'each', text: 'Yes, each was done' },
        { value: 'once', text: 'No, they are repeats: take one of each' },
        leaveOutChoice,
      ],
    }),
    `row ${line.row} as row ${firstRow}`,
  );
  if (answer === 'each') return;
  if (answer === 'once') Object.assign(line, { ...presentAlready, reason: `as row ${firstRow}` });
  else Object.assign(line, { ...(answer === '' ? awaitingAnswer : leftOut), parsed: null });
}
