import type { Figure } from '../../platform/words/figures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { type DisplayQuantity, say, sayDifference, show } from '../quantities/quantities.ts';
import type { NutrientEstimate } from './nutrient.rules.ts';
import type { DemandFigures } from './view.ts';
import { madeWords, useFigure } from './words.rules.ts';

/** What is known of a nutrient in words that every page, alert and letter says alike; null where it is not known. */
export interface NutrientFigures {
  /** "16.2 mg/L now, estimated ± 0.8 mg/L". */
  level: Figure | null;
  /** "made 0.36 mg/L a day (0.30 to 0.42)". */
  production: Figure | null;
  /** "12 % of the water a week". */
  exchange: Figure;
  /** "settles at 18.2 mg/L (14.0 to 22.1)", "goes on rising". */
  settles: Figure | null;
}

/** The figures of a nutrient. `of`: the id of its system. */
export function nutrientFigures(
  quantity: DisplayQuantity,
  of: string,
  now: NutrientEstimate,
): NutrientFigures {
  const { level, rate, exchange, settlesAt } = now;
  const named = (name: string, value: number | string, text: string): Figure => ({
    name: `${quantity.code}.${name}`,
    of,
    value,
    text,
  });
  const share = weeklyShare(exchange);
  return {
    level: level === null ? null : named('level', level.value, levelWords(quantity, level)),
    production:
      rate.rate === null ? null : named('production', rate.rate.perDay, madeWords(quantity, rate.rate)),
    exchange: { name: 'water.exchange', of, value: share, text: exchangeWords(share) },
    settles:
      rate.rate === null
        ? null
        : settlesAt === null
          ? named('settles', 'rising', 'goes on rising')
          : named(
              'settles',
              settlesAt,
              `settles at ${say(quantity, settlesAt)} ${settlesBetween(quantity, now)}`.trim(),
            ),
  };
}

/** Between which levels the 95 % interval of what is made a day lets it settle; '' where that is not known. */
function settlesBetween(
  quantity: DisplayQuantity,
  { rate: { rate }, exchange, settlesAt }: NutrientEstimate,
): string {
  if (rate === null || settlesAt === null || exchange <= 0) return '';
  const at = (perDay: number) =>
    show(quantity, Math.max(0, settlesAt + (perDay - rate.perDay) / exchange)).text;
  return `(${at(rate.low)} to ${at(rate.high)})`;
}

/** A level is estimated from all tests and what was done since; one below what a test can tell is said as that bound. */
const levelWords = (
  quantity: DisplayQuantity,
  { value, sd, below }: NonNullable<NutrientEstimate['level']>,
) =>
  below === undefined
    ? `${say(quantity, value)} now, estimated ± ${sayDifference(quantity, sd, value)}`
    : `less than ${say(quantity, below)} now`;

/** The part of the water that a rate of exchange (the mean of -ln(1 - part) a day) comes to in a week. */
export const weeklyShare = (exchange: number): number => -Math.expm1(-7 * exchange);

const exchangeWords = (share: number) => `${numberWords(Math.round(100 * share))} % of the water a week`;

/** The figures of one quantity, of what is dosed and of nutrients alike; `settles` is one of them. */
export function figuresSaid(
  { quantity, nutrient, now, data }: Pick<DemandFigures, 'quantity' | 'nutrient' | 'now' | 'data'>,
  systemId: string,
): { settles: Figure | null; all: Figure[] } {
  if (nutrient === null)
    return { settles: null, all: now.rate === null ? [] : [useFigure(quantity, systemId, now.rate, data)] };
  const { level, production, exchange, settles } = nutrientFigures(quantity, systemId, nutrient);
  return { settles, all: [level, production, exchange, settles].filter((one) => one !== null) };
}
