import type { Figure } from '../platform/words/figures.ts';
import { plural } from '../platform/words/numbers.ts';
import { daysBetween } from '../science/numeric/time.ts';
import { steadinessWords } from '../water/overview/steadiness.rules.ts';
import { type Quantity, say } from '../water/quantities/quantities.ts';
import { lastFigure } from '../water/readings/last-value.rules.ts';
import { type ForecastHistory, forecastOf } from '../water/system-page/forecast.rules.ts';
import { stateWords } from '../water/systems/state.rules.ts';
import type { DigestSystem } from './content.ts';
import type { DigestSystemFacts } from './facts.ts';

/** "2 open alerts; 8.3 dKH, swung 0.3 in 7 d, steady, rising to about 8.6 dKH in a week; nitrate last tested at 7.6 mg/L as NO₃". */
export function systemWords(
  system: DigestSystemFacts,
  quantities: readonly Quantity[],
  { timeZone, now }: { timeZone: string; now: Date },
): { words: string; figures: Figure[] } {
  const figures: Figure[] = [];
  const part = (code: string, name: string, ...more: (string | null)[]) => {
    const quantity = quantities.find((one) => one.code === code);
    const latest = system.latest.find((one) => one.quantityCode === code);
    if (quantity === undefined || latest === undefined) return null;
    const doubt = latest.unconfirmed ? 'not yet confirmed' : null;
    const figure = lastFigure(quantity, latest);
    figures.push(figure);
    return [`${name}${figure.text}`, doubt, ...more].filter((words) => words !== null).join(', ');
  };
  const alkalinity = quantities.find(({ code }) => code === 'alkalinity');
  const course = alkalinity === undefined ? [] : courseWords(system, alkalinity, now);
  const parts = [
    part('alkalinity', '', ...course),
    part('nitrate', 'nitrate last tested at '),
    part('temperature', ''),
  ].filter((one) => one !== null);
  const words = [stateWords(system.state, { timeZone, now }).words, ...parts].join('; ');
  return { words, figures };
}

/** With fewer tests nothing is said of where a quantity is heading (own choice). */
const fewestTests = 3;
const weekAhead = 7;

/** How much it swung, whether that is steady, and where it is heading. */
function courseWords(
  { alkalinity, events, forecast }: Pick<DigestSystemFacts, 'alkalinity' | 'events' | 'forecast'>,
  quantity: Quantity,
  now: Date,
): string[] {
  const relied = alkalinity.filter(({ trust, below }) => trust !== 'unconfirmed' && !below);
  if (relied.length < fewestTests) return [];
  const swing = steadinessWords(relied, events, quantity, now);
  const inDoubt = alkalinity.at(-1)?.trust === 'unconfirmed';
  const heading = inDoubt ? '' : headingWords(forecast, quantity, now);
  return [swing, heading].filter((words) => words !== '');
}

/** Where it will be in a week if it goes on as of late; '' where that may as well be where it is. */
function headingWords(history: ForecastHistory | null, quantity: Quantity, now: Date): string {
  const forecast = history === null ? null : forecastOf(quantity, history, now, weekAhead);
  const [today, then] = [forecast?.points[0], forecast?.points.at(-1)];
  if (today === undefined || then === undefined) return '';
  if (then.low <= today.value && today.value <= then.high) return '';
  const ahead = Math.round(daysBetween(today.at, then.at));
  const when = ahead === weekAhead ? 'a week' : plural(ahead, 'day', 'days');
  return `${then.value > today.value ? 'rising' : 'falling'} to about ${say(quantity, then.value)} in ${when}`;
}

/** The small line of a system's alkalinity. */
export const trendOf = ({ alkalinity }: DigestSystemFacts): DigestSystem['trend'] =>
  alkalinity.filter(({ below }) => !below).map(({ at, value }) => ({ at: at.toISOString(), value }));
