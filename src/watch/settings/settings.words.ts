import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { sentence } from '../alerts/alerts.words.ts';
import type { Parameter } from '../rule-definition/parameters.ts';
import type { SettingOrigin, SettingRow } from './settings.rules.ts';

/** "1.3 times", "1 day". */
export const valueWords = (value: number, { unit }: Pick<Parameter, 'unit'>): string =>
  `${numberWords(value)} ${value === 1 ? unit.replace(/(?<=[a-z]{2})s$/, '') : unit}`.trim();

/** Where a number comes from: its default's source, or who set it when and why. */
export function originWords(
  parameter: Parameter,
  origin: SettingOrigin | undefined,
  timeZone: string,
): string {
  if (origin?.from == null) return `Default. ${sentence(parameter.source)}`;
  return setWords(origin.from, timeZone);
}

/** "Set by Ines on 3 Mar 2026 for North: they go fast here". */
export function setWords({ reason, at, who, scopeName }: SettingRow, timeZone: string): string {
  const place = scopeName === null ? '' : ` for ${scopeName}`;
  return `Set${who === null ? '' : ` by ${who}`} on ${dateWords(at, timeZone)}${place}: ${reason}`;
}
