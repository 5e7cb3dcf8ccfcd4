import { numberWords } from '../platform/words/numbers.ts';
import { dateWords } from '../platform/words/times.ts';
import { sentence } from './alert-words.ts';
import type { Knob } from './finding/parameters.ts';
import type { Origin, SettingRow } from './settings.rules.ts';

/** "1.3 times". */
export const valueWords = (value: number, { unit }: Pick<Knob, 'unit'>): string =>
  `${numberWords(value)} ${unit}`.trim();

/** Where a number comes from: its default's source, or who set it when and why. */
export function originWords(knob: Knob, origin: Origin | undefined, timeZone: string): string {
  if (origin?.from == null) return `Default. ${sentence(knob.source)}`;
  return setWords(origin.from, timeZone);
}

/** "Set by Ines on 3 Mar 2026 for North: they go fast here". */
export function setWords({ reason, at, who, scopeName }: SettingRow, timeZone: string): string {
  const place = scopeName === null ? '' : ` for ${scopeName}`;
  return `Set${who === null ? '' : ` by ${who}`} on ${dateWords(at, timeZone)}${place}: ${reason}`;
}
