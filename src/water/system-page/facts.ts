import { plural } from '../../platform/words/numbers.ts';
import { agoWords } from '../../platform/words/times.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { biasWords, removeBias } from '../kits/bias.rules.ts';
import { say, sayBand, sayDifference } from '../quantities/quantities.ts';
import { lastFigure } from '../readings/last-value.rules.ts';
import { bandSource } from '../targets/starting-bands.rules.ts';
import { untrustedWords } from '../trust/probe-doubts.ts';
import { resolutionCaution } from '../trust/trust.rules.ts';
import { forecastWords, standingWords } from './forecast.rules.ts';
import type { SystemView } from './system-page.ts';

/** The rows beneath the chart: the last reading, what is kept, and what is expected. */
export function factsOf(view: SystemView, now: Date, timeZone: string) {
  const { quantity, targets, forecast } = view;
  const target = targets.get(quantity.code);
  const expected =
    forecastWords(quantity, forecast, target, timeZone) || standingWords(view.standing, timeZone, now);
  const source = target === undefined ? '' : bandSource(target);
  const figure = (value: number | null | undefined, none: string) =>
    value === null || value === undefined ? none : say(quantity, value);
  return [
    lastFact(view, now, timeZone),
    ...(view.doubts.length === 0
      ? []
      : [{ label: 'Not counted', text: untrustedWords(view.doubts, timeZone, now), small: '' }]),
    {
      label: 'Target band',
      text: sayBand(quantity, target?.bandLow ?? null, target?.bandHigh ?? null) ?? 'not set',
      small: source,
    },
    { label: 'Limit', text: figure(target?.limitHigh, 'not set'), small: '' },
    { label: 'Make-up water', text: figure(target?.makeUp, 'not known'), small: '' },
    ...(expected === '' ? [] : [{ label: 'Ahead', text: expected, small: '' }]),
    ...shortHistoryFact(view, now),
  ].map((row) => ({ ...row, href: '', unit: '' }));
}

/** The last value with its uncertainty, corrected where its kit is known to read wrong, and how far it can be relied on. */
function lastFact({ quantity, latest, targets, biases, parts }: SystemView, now: Date, timeZone: string) {
  const label = 'Last reading';
  const last = latest.get(quantity.code);
  if (last === undefined) return { label, text: 'none yet', small: '' };
  const kit = biases.get(last.kitId ?? '');
  const corrected = removeBias(last, kit);
  const { value, uncertainty } = corrected ?? last;
  const target = targets.get(quantity.code);
  const band = { low: target?.bandLow ?? null, high: target?.bandHigh ?? null };
  const reading = parts.flatMap((part) => part.readings).find(({ id }) => id === last.id);
  const notes = [
    reading?.laboratory ? `by ${reading.laboratory}` : null,
    `${agoWords(last.at, timeZone, now)}${last.trust === 'unconfirmed' ? ', unconfirmed' : ''}`,
    corrected === null || kit === undefined
      ? null
      : `read ${say(quantity, last.value)}; ${kit.label} ${biasWords(kit)}`,
    resolutionCaution(quantity, { ...last, value, uncertainty }, band),
  ];
  const figure = lastFigure(quantity, { ...last, corrected });
  const text =
    last.below || last.above
      ? figure.text
      : `${figure.text} ± ${sayDifference(quantity, uncertainty, value)}`;
  return { label, text, small: notes.filter((note) => note !== null).join('; '), figures: [figure] };
}

/** The quantities whose rules compare a system with its own past, and the days of readings they need first (the study behind the rules). */
const baselineQuantities = ['nitrate', 'alkalinity'];
const baselineDays = 60;

/** Says that the watch does not yet know what is usual in this water; none once it does. */
function shortHistoryFact({ quantity, since }: SystemView, now: Date) {
  const days = since === null ? 0 : Math.floor(daysBetween(since, now));
  if (!baselineQuantities.includes(quantity.code) || days >= baselineDays) return [];
  const small = `Usual behaviour of this water is known from ${baselineDays} days of readings; they reach back ${plural(days, 'day', 'days')}.`;
  return [{ label: 'Watched by', text: 'its band alone', small }];
}
