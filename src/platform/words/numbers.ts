/** "1 piece", "1,148 pieces", "0 pieces". */
export function plural(n: number, one: string, many: string): string {
  return `${numberWords(n)} ${n === 1 ? one : many}`;
}

/** "1 day", "12 days", "less than a day". @param days whole days, as the caller rounds them */
export function dayCount(days: number): string {
  return days < 1 ? 'less than a day' : plural(days, 'day', 'days');
}

/**
 * A number for people: thousands by comma, a true minus sign, and, when `decimals` is given, exactly that many.
 * @throws RangeError when `value` is not finite
 */
export function numberWords(value: number, decimals?: number): string {
  if (!Number.isFinite(value)) throw new RangeError(`${value} is not a number that can be shown`);
  return wholeWords(value, decimals) ?? writtenWords(value, decimals);
}

/** Numbers as written lately: a page says the same ones many times, and the format takes long. */
const writtenLately = new Map<string, string>();
const MOST_WRITTEN = 5000;

function writtenWords(value: number, decimals: number | undefined): string {
  const key = `${decimals} ${value}`;
  const known = writtenLately.get(key);
  if (known !== undefined) return known;
  const written = formatOf(decimals).format(value).replace('-', '−');
  if (writtenLately.size >= MOST_WRITTEN) writtenLately.clear();
  writtenLately.set(key, written);
  return written;
}

/** "+1.3 %", "−0.4 dKH", "0.0 %": a size in words with the sign of its value; what was rounded to nothing has none. */
export function withSign(value: number, size: string): string {
  if (!/[1-9]/.test(size)) return size;
  return `${value < 0 ? '−' : '+'}${size}`;
}

/** What is said as a whole number below a thousand, as the format would: most numbers are, and it takes a while. */
function wholeWords(value: number, decimals: number | undefined): string | null {
  const size = decimals === 0 ? Math.round(Math.abs(value)) : Math.abs(value);
  const whole = decimals === 0 || (decimals === undefined && Number.isInteger(value));
  if (!whole || size >= 1000) return null;
  return value < 0 && size > 0 ? `−${size}` : `${size}`;
}

const formats = new Map<number | undefined, Intl.NumberFormat>();

/** Made once for each count of decimals: making one takes longer than writing a hundred numbers. */
function formatOf(decimals: number | undefined): Intl.NumberFormat {
  const digits =
    decimals === undefined
      ? { maximumFractionDigits: 3 }
      : { minimumFractionDigits: decimals, maximumFractionDigits: decimals };
  const format =
    formats.get(decimals) ?? new Intl.NumberFormat('en-GB', { ...digits, signDisplay: 'negative' });
  formats.set(decimals, format);
  return format;
}

/** A number as it stands in an input: a decimal point, no thousands mark, at most so many decimals. */
export function inputNumber(value: number | null, decimals = 3): string {
  return value === null ? '' : String(Number(value.toFixed(decimals)));
}
