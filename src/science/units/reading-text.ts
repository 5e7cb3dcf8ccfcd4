import { convert, possibleValue, quantityOf, rangeIn } from './convert.ts';
import { type NumberText, readNumber } from './number-text.ts';
import { readUnit } from './unit-text.ts';

/** A reading as understood from text. */
export interface ParsedReading {
  ok: true;
  /** In `unit`. For a censored reading the limit; null where the text says only "not detected". */
  value: number | null;
  unit: string;
  /** 'below' the detection limit, 'above' the top of the method's scale, or not censored. */
  censored: 'below' | 'above' | null;
}

/** Why a text is not taken as a reading, in words for the person who wrote it. */
export interface ReadingQuestion {
  ok: false;
  reason:
    | 'empty'
    | 'not measured'
    | 'not a number'
    | 'unclear number'
    | 'unknown unit'
    | 'unclear unit'
    | 'impossible';
  message: string;
  /** What the number may have meant, likeliest first, where that can be listed. */
  candidates: number[];
}

const NOT_DETECTED =
  /^(n\.?\s?[dn]\.?|b\.?\s?d\.?\s?l\.?|not detected|non-?detect|below detection( limit)?|undetected|nicht nachweisbar|non détecté|no detectado|non rilevato|niet aantoonbaar)(?=$|[\s<:])\s*:?/i;
const NOT_MEASURED = /^(-+|–|—|n\.?\s?[am]\.?|n\/a|not measured|not tested|missing|null|none|nan|\?+)$/i;
const SIGN = /^(<=|≤|<|>=|≥|>)\s*/;
const NUMBER = /^[+\-−]?[\d.,](?:[\d.,]|[\s'’](?=\d{3}(?!\d)))*(?:e[+-]?\d+)?/i;

/**
 * Reads what a person or a file wrote for one quantity: `8,4 dKH`, `<0.02`, `ND`, `1.026 SG 25/25`. Decimal point
 * or comma; nothing is guessed: a text with two meanings comes back as a question.
 *
 * @param defaultUnit the unit meant when the text names none; its chemical form or temperature base also completes
 * a half-named one (`mg/L`, `SG`)
 * @throws RangeError for an unknown quantity or default unit (a fault of the program, not of the text)
 */
export function parseReadingText(
  text: string,
  quantityCode: string,
  defaultUnit: string,
): ParsedReading | ReadingQuestion {
  rangeIn(quantityCode, quantityOf(quantityCode).possible, defaultUnit);
  const trimmed = text.normalize('NFKC').replace(/\s+/g, ' ').trim();
  if (trimmed === '') return question('empty', 'nothing was entered');
  if (NOT_MEASURED.test(trimmed))
    return question('not measured', `"${trimmed}" means not measured; no reading is kept`);
  if (/\d\s*\?+$/.test(trimmed))
    return question(
      'unclear number',
      `"${trimmed}" is marked as doubtful; write the number alone where it counts`,
    );
  const detected = trimmed.replace(NOT_DETECTED, '').trim();
  if (detected === '') return { ok: true, value: null, unit: defaultUnit, censored: 'below' };
  const sign = SIGN.exec(detected)?.[1] ?? '';
  if (detected !== trimmed && !sign.startsWith('<')) return notANumber(trimmed);
  return parseAmount(detected.replace(SIGN, ''), trimmed, sign, quantityCode, defaultUnit);
}

function parseAmount(
  amount: string,
  whole: string,
  sign: string,
  quantityCode: string,
  defaultUnit: string,
): ParsedReading | ReadingQuestion {
  const leading = /^(ph|sg|s\.g\.)\s*[:=]?\s*(?=\d)/i.exec(amount);
  const rest = leading ? amount.slice(leading[0].length) : amount;
  const digits = NUMBER.exec(rest)?.[0];
  if (digits === undefined) return notANumber(whole);
  const unitText = `${rest.slice(digits.length)} ${leading?.[1] ?? ''}`.trim();
  if (/^[-–—~±]\s*\d|^\+\/?-/.test(unitText)) return notANumber(whole, 'is more than one number; enter one');
  const unit = readUnit(unitText, quantityCode, defaultUnit);
  if ('question' in unit) return question(unit.unknown ? 'unknown unit' : 'unclear unit', unit.question);
  const value = settle(readNumber(digits), whole, quantityCode, unit.unit);
  if (typeof value !== 'number') return value;
  return checked(value, whole, sign, quantityCode, unit.unit);
}

/** The value meant, where only one meaning is possible. */
function settle(
  number: NumberText,
  whole: string,
  quantityCode: string,
  unit: string,
): number | ReadingQuestion {
  if (number.kind === 'unreadable') return notANumber(whole);
  if (number.kind === 'number') return number.value;
  const { decimal, thousands } = number;
  const { usual, possible } = quantityOf(quantityCode);
  const isUsual = (value: number) => within(value, rangeIn(quantityCode, usual, unit));
  const isPossible = (value: number) => within(value, rangeIn(quantityCode, possible, unit));
  if (
    number.separator === '.'
      ? isUsual(decimal) || !isUsual(thousands)
      : isUsual(decimal) && !isPossible(thousands)
  ) {
    return decimal;
  }
  const candidates = isUsual(thousands) && !isUsual(decimal) ? [thousands, decimal] : [decimal, thousands];
  const likely =
    isUsual(thousands) !== isUsual(decimal) ? `; ${candidates[0]} ${unit} is the usual size` : '';
  const message = `"${whole}" can mean ${decimal} or ${thousands}${likely}: write it without a thousands mark`;
  return { ok: false, reason: 'unclear number', message, candidates };
}

function checked(
  value: number,
  whole: string,
  sign: string,
  quantityCode: string,
  unit: string,
): ParsedReading | ReadingQuestion {
  if (sign !== '' && value === 0)
    return question('impossible', `"${whole}": a limit of 0 says nothing; enter the limit`);
  if (quantityCode === 'salinity' && unit === 'PSU' && value > 1 && value < 1.05) {
    return question(
      'unclear unit',
      `"${whole}" looks like a specific gravity; write it with its temperatures, as ${value} SG 25/25`,
    );
  }
  try {
    possibleValue(quantityCode, value, unit);
    convert(quantityCode, value, unit, quantityOf(quantityCode).units[0].code);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    return question('impossible', `${error.message}; check the decimal mark and the unit`);
  }
  const censored = sign === '' ? null : sign.startsWith('<') || sign === '≤' ? 'below' : 'above';
  return { ok: true, value, unit, censored };
}

function notANumber(
  whole: string,
  why = 'was not understood; write one number, as 8.4 or 8,4 or <0.02',
): ReadingQuestion {
  return question('not a number', `"${whole}" ${why}`);
}

function question(reason: ReadingQuestion['reason'], message: string): ReadingQuestion {
  return { ok: false, reason, message, candidates: [] };
}

function within(value: number, [low, high]: readonly [number, number]): boolean {
  return value >= low && value <= high;
}
