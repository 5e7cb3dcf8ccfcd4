/** What a run of digits, points and commas can mean. */
export type NumberText =
  | { kind: 'number'; value: number }
  | { kind: 'either'; decimal: number; thousands: number; separator: '.' | ',' }
  | { kind: 'unreadable' };

const UNREADABLE: NumberText = { kind: 'unreadable' };
const GROUP_MARKS = /(?<=\d)[\s'’](?=\d{3}(?!\d))/g;

/**
 * Reads a number written with a decimal point or a decimal comma, with or without thousands groups. One
 * separator before exactly three digits (`1,350`) can be either, and is returned as such.
 */
export function readNumber(text: string): NumberText {
  const compact = text.replace(GROUP_MARKS, '').replace('−', '-');
  const match = /^([+-]?)([\d.,]+)(?:e([+-]?\d{1,2}))?$/i.exec(compact);
  if (!match) return UNREADABLE;
  const [, sign = '', digits = '', exponent] = match;
  const power = exponent === undefined ? '' : `e${exponent}`;
  const marks = digits.replace(/\d/g, '');
  if (marks === '') return number(sign + digits + power);
  if (marks.length === 1) return oneMark(sign, digits, power, marks as '.' | ',');
  return severalMarks(sign, digits, power);
}

function oneMark(sign: string, digits: string, power: string, separator: '.' | ','): NumberText {
  const [whole = '', rest = ''] = digits.split(separator);
  if (rest === '') return UNREADABLE;
  const decimal = number(`${sign}${whole}.${rest}${power}`);
  const mayBeThousands = power === '' && /^[1-9]\d{0,2}$/.test(whole) && rest.length === 3;
  if (decimal.kind !== 'number' || !mayBeThousands) return decimal;
  return { kind: 'either', decimal: decimal.value, thousands: Number(sign + whole + rest), separator };
}

/** Groups of three with one mark, and at most one other mark, the decimal one, behind them. */
function severalMarks(sign: string, digits: string, power: string): NumberText {
  const match = /^(\d{1,3}(?:([.,])\d{3})(?:\2\d{3})*)(?:(?!\2)[.,](\d+))?$/.exec(digits);
  if (!match) return UNREADABLE;
  const [, groups = '', , fraction = '0'] = match;
  return number(`${sign}${groups.replace(/[.,]/g, '')}.${fraction}${power}`);
}

function number(text: string): NumberText {
  const value = Number(text);
  return text !== '' && Number.isFinite(value) ? { kind: 'number', value } : UNREADABLE;
}
