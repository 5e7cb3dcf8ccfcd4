/** An amount of money: whole minor units (cents) of a currency. */
export interface Price {
  minor: number;
  /** ISO 4217 code. */
  currency: string;
}

/**
 * How many decimals the currencies have that do not have two (ISO 4217, list one, "minor unit"; from memory). They stand
 * here and not in the platform's own tables, because what is stored must keep its meaning when those change.
 */
const otherDecimals: Readonly<Record<string, number>> = {
  ...{ BIF: 0, CLP: 0, DJF: 0, GNF: 0, ISK: 0, JPY: 0, KMF: 0, KRW: 0, PYG: 0, RWF: 0, UGX: 0 },
  ...{ UYI: 0, VND: 0, VUV: 0, XAF: 0, XOF: 0, XPF: 0 },
  ...{ BHD: 3, IQD: 3, JOD: 3, KWD: 3, LYD: 3, OMR: 3, TND: 3, CLF: 4, UYW: 4 },
};

/** How many decimals amounts of a currency are written with. */
export const decimalsOf = (currency: string): number => otherDecimals[currency] ?? 2;

/** Every currency that can be chosen: its ISO 4217 code, and code and English name in one text. */
export function listCurrencies(): { value: string; text: string }[] {
  const names = new Intl.DisplayNames('en', { type: 'currency' });
  return Intl.supportedValuesOf('currency').map((code) => ({
    value: code,
    text: `${code}, ${names.of(code) ?? code}`,
  }));
}

/** An amount as the database has it; null where there is none. */
export const priceOf = (minor: number | null, currency: string | null): Price | null =>
  minor === null || currency === null ? null : { minor, currency };

/** "EUR 12.50", "JPY 1,200". */
export function priceWords({ minor, currency }: Price): string {
  const decimals = decimalsOf(currency);
  const digits = { minimumFractionDigits: decimals, maximumFractionDigits: decimals };
  return `${currency} ${new Intl.NumberFormat('en-GB', digits).format(minor / 10 ** decimals)}`;
}

/** "12.50": an amount as it stands in an input. */
export function inputAmount({ minor, currency }: Price): string {
  const decimals = decimalsOf(currency);
  return (minor / 10 ** decimals).toFixed(decimals);
}

/** The sign of a currency as it stands on price tags: "€", "$", "kr". */
const signOf = (currency: string): string =>
  new Intl.NumberFormat('en', { style: 'currency', currency, currencyDisplay: 'narrowSymbol' })
    .formatToParts(1)
    .find(({ type }) => type === 'currency')?.value ?? currency;

/** The largest amount that is kept, in minor units; own choice, far above any price. */
const largestAmount = 1_000_000_000;

/**
 * Reads an amount as people write it: "12.50", "12,50", "1,200.00", "EUR 12.50", "12,-" (no cents). Its code or sign is passed
 * over; a mark before three digits parts thousands where the currency has not three decimals. A lone dot there may as
 * well be the decimal mark of a computed value ("12.505"): a thousandfold price is worse than a question.
 * @returns minor units, or null where it is no amount of that currency, or can be read in two ways
 */
export function parseAmount(text: string, currency: string): number | null {
  const marks = `(${currency}|${signOf(currency).replace(/[$.]/g, '\\$&')})`;
  const plain = text
    .replace(new RegExp(`^\\s*${marks}|${marks}\\s*$`, 'i'), '')
    .replace(/[\s'’]/g, '')
    .replace(/(?<=\d)[.,][-–—]{1,2}$/, '');
  const decimals = decimalsOf(currency);
  const found = new RegExp(
    `^(\\d+|\\d{1,3}([.,])\\d{3}(?:\\2\\d{3})*)(?:[.,](\\d{1,${Math.max(decimals, 2)}}))?$`,
  ).exec(plain);
  if (found === null) return null;
  if (decimals < 3 && /^\d{1,3}\.\d{3}$/.test(plain)) return null;
  const [, wholePart = '', , fraction = ''] = found;
  if (fraction.length > decimals && Number(fraction) !== 0) return null;
  const digits = wholePart.replace(/[.,]/g, '') + fraction.slice(0, decimals).padEnd(decimals, '0');
  const minor = Number(digits);
  return minor <= largestAmount ? minor : null;
}
