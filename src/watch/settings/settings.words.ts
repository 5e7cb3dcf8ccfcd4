import { numberWords } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { sentence } from '../alerts/alerts.words.ts';
import type { Parameter } from '../rule-definition/parameters.ts';
import type { SettingOrigin, SettingRow } from './settings.rules.ts';

/** A limit's unit as whoever reads has it. */
export const limitUnit = ({ unit, scale }: Pick<Parameter, 'unit' | 'scale'>): string =>
  scale?.unit() ?? spelt[unit] ?? unit;

/** Units that limits have in short. */
const spelt: Readonly<Record<string, string>> = { d: 'days', h: 'hours' };

/** A limit's number as whoever reads has it; to four digits where it may come from another unit. */
const limitNumber = (value: number, { scale }: Pick<Parameter, 'scale'>): number =>
  scale === undefined ? value : Number(scale.toReader(value).toPrecision(4));

/** "1.3 times", "1 day", "1.26 °F". */
export function valueWords(value: number, parameter: Pick<Parameter, 'unit' | 'scale'>): string {
  const unit = limitUnit(parameter);
  return `${numberWords(limitNumber(value, parameter))} ${value === 1 ? unit.replace(/(?<=[a-z]{2})s$/, '') : unit}`.trim();
}

/** "0.36 to 7.2 °F": what may be set. */
export const rangeWords = (parameter: Parameter): string =>
  `${numberWords(limitNumber(parameter.low, parameter))} to ${valueWords(parameter.high, parameter)}`;

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
