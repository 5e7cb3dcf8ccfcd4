import { eventKinds } from '../../farm/events/kinds.rules.ts';
import { gramsWords } from '../../platform/units/measures.ts';
import { unitsNow } from '../../platform/units/units.ts';
import type { Figure } from '../../platform/words/figures.ts';
import { dayCount, numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords, whenWords } from '../../platform/words/times.ts';
import { COMMUNITY_RATIO } from '../../science/calcification.ts';
import { type DosedQuantity, gramsForRise, SUBSTANCES, type SubstanceCode } from '../../science/dosing.ts';
import { dateAtDay, dayOf } from '../../science/numeric/time.ts';
import { caps } from '../dosing/substances.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import {
  type DisplayQuantity,
  decimalsIn,
  farmValue,
  type Quantity,
  say,
  sayDifference,
  unitName,
} from '../quantities/quantities.ts';
import { type CalciumRatio, isOutsideRange } from './calcium-ratio.rules.ts';
import { partGiven } from './doser-doubt.rules.ts';
import type { DemandRate } from './rate.rules.ts';
import type { DemandShift } from './shift.rules.ts';
import { dosesEndedOn, silentDays } from './silence.rules.ts';
import type { DemandData, LevelJump, RateNow, Supply } from './supply.rules.ts';
import { notCountedWords, productsWords, type UnknownProduct, unknownIn } from './unknown-doses.rules.ts';
import { leftOutReasons } from './usable-readings.rules.ts';

/** What replaces what is used, by quantity. */
const replacement: Readonly<Record<DosedQuantity, SubstanceCode>> = {
  alkalinity: 'sodium-bicarbonate',
  calcium: 'calcium-chloride-dihydrate',
  magnesium: 'magnesium-chloride-hexahydrate',
};

export const isDosed = (code: string): code is DosedQuantity => code in replacement;

/** An amount a day in the farm's unit, with one decimal more than its level: "0.42 dKH". `level`: what it is around. */
export function dailyAmountWords(quantity: DisplayQuantity, value: number, level: number): string {
  return `${dailyAmountNumber(quantity, value, level)} ${unitName(quantity.code, farmValue(quantity, level).unit)}`.trim();
}

/** The same without its unit. */
export function dailyAmountNumber(quantity: DisplayQuantity, value: number, level: number): string {
  const { unit } = farmValue(quantity, level);
  return numberWords(displayDifference(quantity, value, level), decimalsIn(quantity, unit) + 1);
}

/** A canonical difference around a level as a number in the farm's unit. */
export function displayDifference(quantity: DisplayQuantity, difference: number, level: number): number {
  return farmValue(quantity, level + difference).value - farmValue(quantity, level).value;
}

/** True when doses are logged over at least the later half of the days of a rate and to their end, or somebody says that none is given. */
function isLogWhole({ log, unknownDoses, undosedSince = null }: DemandData, rate: DemandRate): boolean {
  if (undosedSince !== null) return true;
  const doses = [...log.doses, ...unknownDoses];
  if (dosesEndedOn(doses, rate.toDay) !== null) return false;
  return Math.min(...doses.map(({ day }) => day)) <= (rate.fromDay + rate.toDay) / 2;
}

/** A steady level says something of the use only where all that is dosed is logged, and what each dose raises is known. */
const isDosingKnown = (data: DemandData, rate: DemandRate): boolean =>
  isLogWhole(data, rate) && unknownIn(data, rate).length === 0;

function noDoseLogWords(data: DemandData, rate: DemandRate): string {
  const { hasDoser, log, unknownDoses } = data;
  const { toDay } = rate;
  const unknown = unknownIn(data, rate);
  if (unknown.length > 0 && isLogWhole(data, rate))
    return `What ${productsWords(unknown)} ${unknown.length === 1 ? 'raises' : 'raise'} is not known, so use cannot be judged: it may be what holds the level. Go on dosing as you do, and say on the page of doses what ${unknown.length === 1 ? 'it raises' : 'they raise'}.`;
  const ended = dosesEndedOn([...log.doses, ...unknownDoses], toDay);
  if (ended !== null)
    return `No dose was logged in the ${dayCount(Math.round(toDay - ended))} before the last test, so use cannot be judged. Log what was given; if nothing is dosed any more, say so once on the page of doses.`;
  const ask = hasDoser
    ? 'This system has a doser or a routine of dosing: log what is given, and since when.'
    : 'Log what is dosed; if nothing is, say so once on the page of doses.';
  const some = log.doses.length + unknownDoses.length > 0;
  return `No doses are recorded${some ? ' for most of these days' : ''}, so use cannot be judged. ${ask}`;
}

/** True where something is dosed and nobody writes it down: then not even a falling level says what is used. */
const isDosedUnlogged = (data: DemandData, rate: DemandRate): boolean =>
  (data.hasDoser || dosesEndedOn([...data.log.doses, ...data.unknownDoses], rate.toDay) !== null) &&
  !isLogWhole(data, rate);

/** Whether a change of the level says what is used: not where doses may have gone in that nobody wrote down. */
export const isUseKnown = (data: DemandData, rate: DemandRate): boolean =>
  !isDosedUnlogged(data, rate) && (-rate.high > 0 || isDosingKnown(data, rate));

/** A level that moves with what is dosed by more than this part of the use is not held by its doses; own choice. */
const holds = 0.1;

/**
 * Whether doses of the log may not have gone in, so that the use worked out from them may be too large: a doser was found wrong,
 * or is suspected while the level moves in spite of what is dosed.
 */
export function isDoserInDoubt({ doser }: DemandData, rate: DemandRate): boolean {
  if (doser == null || doser.state === 'righted' || rate.dosedPerDay <= 0) return false;
  return doser.state === 'wrong' || Math.abs(rate.perDay + rate.dosedPerDay) >= holds * -rate.perDay;
}

/** What the use may be while the doser is in doubt: no daily dose is named. `before`: what was used before; null where that is not known. */
function doserDoubtWords(
  quantity: Quantity,
  rate: DemandRate,
  { doser }: DemandData,
  before: number | null,
): string {
  const aDay = (value: number) => `${dailyAmountWords(quantity, value, rate.level)} a day`;
  if (doser?.state === 'wrong')
    return 'Use cannot be judged: a doser was found wrong, so not all doses of the log went in as told. Put it right, and say on its alert when it gives its full amount again. Until then no daily dose is worked out.';
  const part = partGiven({ use: -rate.perDay, before, dosed: rate.dosedPerDay });
  const other =
    part === null || before === null
      ? 'what doses gives less than is logged'
      : `what doses gives about ${fractionWords(part)} of what is logged and the stock uses ${aDay(before)} as before`;
  return `Either the stock uses ${aDay(-rate.perDay)}, or ${other}. Look at the doser first: until one of the two is known no daily dose is worked out.`;
}

/** What was used or made a day, with its interval: "used 0.42 dKH a day (0.35 to 0.49)". */
export function rateSentence(quantity: Quantity, rate: DemandRate, data: DemandData): string {
  if (!isDosed(quantity.code)) return madeWords(quantity, rate);
  const words = intervalOf(quantity, rate.level);
  const [low, high] = [-rate.high, -rate.low];
  if (low <= 0 && !isDosingKnown(data, rate))
    return `${high < 0 ? 'rises' : 'changes by'} ${words(rate.perDay, -high, -low)}; use is not known`;
  if (isDosedUnlogged(data, rate)) return `falls by ${words(-rate.perDay, low, high)}; use is not known`;
  if (high < 0) return `gained ${words(rate.perDay, -high, -low)}`;
  if (low <= 0) return `no use measurable: ${words(-rate.perDay, low, high)}`;
  const unknown = unknownIn(data, rate);
  const beside = unknown.length === 0 ? '' : `, ${productsWords(unknown)} not counted`;
  const doubted = isDoserInDoubt(data, rate) ? ', if all doses of the log went in' : '';
  return `used ${words(-rate.perDay, low, high)}${beside}${doubted}`;
}

/** What feeding brings a day: "made 0.36 mg/L a day (0.30 to 0.42)". */
export function madeWords(quantity: DisplayQuantity, { perDay, low, high, level }: DemandRate): string {
  const words = intervalOf(quantity, level);
  if (high < 0) return `used up ${words(-perDay, -high, -low)}`;
  if (low <= 0) return `nothing made that can be measured: ${words(perDay, low, high)}`;
  return `made ${words(perDay, low, high)}`;
}

/** What is used a day as every page says it. `of`: the id of the system. */
export function useFigure(quantity: Quantity, of: string, rate: DemandRate, data: DemandData): Figure {
  const name = `${quantity.code}.use`;
  return { name, of, value: -rate.perDay, text: rateSentence(quantity, rate, data) };
}

const intervalOf = (quantity: DisplayQuantity, level: number) => {
  const text = (amount: number) => dailyAmountNumber(quantity, amount, level);
  return (amount: number, from: number, to: number) =>
    `${dailyAmountWords(quantity, amount, level)} a day (${text(from)} to ${text(to)})`;
};

/** What advice is worked out from; `today`: the day that it is given. */
interface AdviceGround {
  volumeL: number;
  data: DemandData;
  today: number;
  settles?: Figure | null;
  /** What was used a day before the days of the rate; null or left out where that is not known. */
  before?: number | null;
}

/** What the demand asks for day by day: "Water changes alone keep up", "Needs 18 g of sodium bicarbonate a day". */
export function dosingAdvice(
  quantity: Quantity,
  now: RateNow,
  supply: Supply | null,
  { volumeL, data, today, settles = null, before = null }: AdviceGround,
): string {
  if (now.rate === null) return `Cannot tell yet: ${now.why}.`;
  const silent = silentDays(data, today);
  if (silent !== null)
    return `Tested ${dayCount(silent)} ago for the last time, so this is how it was. Test first: how it is now is not known.`;
  const { code } = quantity;
  if (!isDosed(code)) return settlingWords(now.rate, settles, data);
  if (isDosedUnlogged(data, now.rate)) return noDoseLogWords(data, now.rate);
  if (isDoserInDoubt(data, now.rate)) return doserDoubtWords(quantity, now.rate, data, before);
  if (supply === null || supply.verdict === 'no use') {
    if (!isDosingKnown(data, now.rate)) return noDoseLogWords(data, now.rate);
    return 'No dosing needed by these tests. Keep testing now and then, so that a fall is seen.';
  }
  const unknown = unknownIn(data, now.rate);
  if (supply.verdict === 'changes keep up') {
    if (unknown.length > 0) return noDoseLogWords(data, now.rate);
    return `Water changes alone keep up, by these tests.${isDosingKnown(data, now.rate) ? '' : ' No doses are recorded.'}`;
  }
  const grams = (rise: number) => gramsForRise(replacement[code], code, Math.max(0, rise), volumeL);
  const { name } = SUBSTANCES[replacement[code]];
  return `Needs ${weightWords(grams(supply.gap))} of ${name} a day (${weightWords(grams(supply.gapLow))} to ${weightWords(grams(supply.gapHigh))})${unknown.length === 0 ? '' : ` beside ${productsWords(unknown)}, of which nobody has said what it raises`}${doseCoverWords(quantity, supply, now.rate)}.`;
}

/** How far water changes and the logged doses cover the need. */
function doseCoverWords(quantity: Quantity, { dosed, gap, returned }: Supply, rate: DemandRate): string {
  const beside = returned !== null && returned > gap / 50 ? ' beside the water changes' : '';
  if (dosed <= 0) return `${beside}; no dose of it is logged`;
  const drift = rate.perDay + dosed + (returned ?? 0);
  if (Math.abs(drift) < 0.1 * gap) return `${beside}; the doses as logged give that`;
  const amount = dailyAmountWords(quantity, Math.abs(drift), rate.level);
  return `${beside}; with the doses as logged it ${drift < 0 ? 'falls' : 'rises'} by ${amount} a day`;
}

/** Where the level settles between production and the habit of changes; make-up water that is not stated is taken to hold none. */
function settlingWords(rate: DemandRate, settles: Figure | null, { makeUpStated }: DemandData): string {
  if (rate.low <= 0 || settles === null)
    return 'What food adds and what the system takes out are equal, by these tests.';
  const assumed = makeUpStated ? '' : ', if the new water holds none of it, which nobody has said';
  return `With the recent water changes it ${settles.text}${assumed}.`;
}

/** "18 g", "1.2 kg", "0.8 g", "40 mg". */
export function weightWords(grams: number): string {
  if (unitsNow().mass !== 'g') return gramsWords(grams);
  if (grams > 0 && grams < 0.1) return `${numberWords(Number((1000 * grams).toPrecision(2)))} mg`;
  if (grams >= 1000) return `${numberWords(grams / 1000, 1)} kg`;
  return `${numberWords(grams, grams < 10 ? 1 : 0)} g`;
}

/** From when to when, how many hours, and how many readings: days are counted by the clock, not by the calendar. */
export function ratePeriodWords(rate: DemandRate, timeZone: string, now: Date): string {
  const at = (day: number) => whenWords(dateAtDay(day), timeZone, now);
  const days = Math.round((rate.toDay - rate.fromDay) * 10) / 10;
  const apart =
    days < 5 ? `${numberWords((rate.toDay - rate.fromDay) * 24, 0)} h` : `${numberWords(days)} days`;
  return `${plural(rate.readings, 'reading', 'readings')} from ${at(rate.fromDay)} to ${at(rate.toDay)}, ${apart} apart`;
}

/** What was left out and why, and what was taken instead; '' where nothing was. */
export function leftOutWords({ leftOut, fromDay, toDay }: DemandRate, data: DemandData): string {
  const refuted = (data.refuted ?? []).filter((day) => day >= fromDay && day <= toDay).length;
  const parts = leftOutReasons.flatMap((reason) => {
    const count = reason === 'refuted' ? refuted : (leftOut.get(reason) ?? 0);
    return count === 0 ? [] : [`${numberWords(count)} ${reason}`];
  });
  const left = parts.length === 0 ? '' : `Left out: ${parts.join(', ')}.`;
  const corrected =
    data.correctedKits.length === 0
      ? ''
      : `Readings with ${data.correctedKits.join(', ')} are corrected for the kit.`;
  const unknown = unknownIn(data, { fromDay, toDay });
  const doses = unknown.length === 0 ? '' : `${notCountedWords(unknown)}.`;
  return [left, corrected, doses].filter((text) => text !== '').join(' ');
}

/** A change is put into words from this evidence (in SD) and share of the usual use on; the alert asks for more. Own choice. */
const shownEvidence = 2.5;
const shownShare = 0.1;

/** A change by this part could not be seen; own choice: what is told of a use that falls. */
const unseenShare = 0.2;

/** "Use fell by a third against …", or that nothing stands out, or that it cannot be told yet. */
export function shiftWords(
  quantity: Quantity,
  shift: DemandShift | null,
  unknown: readonly UnknownProduct[] = [],
  doser: DemandData['doser'] = null,
): string {
  if (doser != null)
    return 'Against its own past: cannot be judged, since not all doses of the log may have gone in.';
  if (unknown.length > 0)
    return `Against its own past: cannot be judged while nobody says what ${productsWords(unknown)} ${unknown.length === 1 ? 'raises' : 'raise'}.`;
  if (shift === null)
    return 'Against its own past: cannot be judged yet. That takes two months with a test every third day, or five months with one a week, and a use larger than the tests’ error.';
  const { share, shareLow, shareHigh, usual, days } = shift;
  const usualWords = `${dailyAmountWords(quantity, usual, shift.late.level)} a day`;
  const standsOut = Math.max(shift.fell, shift.rose) >= shownEvidence && Math.abs(share) > shownShare;
  if (!standsOut && 2 * shift.doseSd >= unseenShare * usual)
    return `Against its own past (usually ${usualWords}): cannot be judged while the dose swings from day to day. What goes out of the doser’s container would tell.`;
  if (!standsOut) return `Against its own past (usually ${usualWords}): as usual for this water.`;
  const interval = [shareLow, shareHigh]
    .map((end) => numberWords(Math.round(Math.abs(end) * 100)))
    .sort((a, b) => Number(a) - Number(b));
  return `Use ${share < 0 ? 'fell' : 'rose'} by ${fractionWords(Math.abs(share))} in ${days} days (${interval.join(' to ')} %), against ${usualWords} before.`;
}

const partNames: readonly [number, string][] = [
  [0.25, 'a quarter'],
  [0.333, 'a third'],
  [0.5, 'half'],
  [0.667, 'two thirds'],
  [0.75, 'three quarters'],
];

/** "a third", "12 %". */
export function fractionWords(share: number): string {
  const near = partNames.find(([part]) => Math.abs(share - part) < 0.025);
  return near?.[1] ?? `${numberWords(Math.round(share * 100))} %`;
}

/** One week's balance: used, brought back by water changes, left to dose. */
export function weeklyWords(quantity: Quantity, supply: Supply, level: number): string {
  const week = (value: number) => dailyAmountWords(quantity, 7 * value, level);
  if (supply.returned === null)
    return `${usedInWeek(supply, week)}. What the changes bring is not known: say what the make-up water holds.`;
  const brings =
    supply.returned < 0 ? `take ${week(-supply.returned)} out` : `bring ${week(supply.returned)} back`;
  const rest = supply.gap <= 0 ? 'nothing is left to dose' : `${week(supply.gap)} are left to dose`;
  return `${usedInWeek(supply, week)}; the changes, ${numberWords(Math.round(700 * supply.changed))} % a week, ${brings}; ${rest}.`;
}

const usedInWeek = ({ use }: Supply, week: (value: number) => string) =>
  use <= 0 ? 'No use is measured' : `${week(use)} are used`;

/** The warning that one water change moves the level too far; '' where it does not. */
export function levelJumpWarning(
  quantity: Quantity,
  jump: LevelJump | null,
  level: number,
  makeUp: number | null,
): string {
  if (jump === null || makeUp === null || !isDosed(quantity.code)) return '';
  const cap = caps[quantity.code];
  const percent = (part: number) => `${numberWords(Math.floor(100 * part))} %`;
  const way = jump.change > 0 ? 'up' : 'down';
  return `One change of ${percent(jump.fraction + 0.004)} with water of ${say(quantity, makeUp)} takes ${nameInSentence(quantity.name)} from ${say(quantity, level)} ${way} by ${sayDifference(quantity, Math.abs(jump.change), level)} at once, more than ${sayDifference(quantity, cap.usual, level)} a day. Change at most ${percent(jump.largest)} at a time, or mix the salt nearer to the system. ${cap.source}`;
}

/** Calcium use beside alkalinity use, or why it cannot be told. `unknown`: what was dosed meanwhile, of which nobody has said what it raises. */
export function ratioWords(found: CalciumRatio | null, unknown: readonly UnknownProduct[] = []): string {
  if (found !== null && unknown.length > 0)
    return `Calcium beside alkalinity: cannot tell while nobody says what ${productsWords(unknown)} ${unknown.length === 1 ? 'raises' : 'raise'}.`;
  if (found === null)
    return 'Calcium beside alkalinity: cannot tell yet. It takes four tests of each over four weeks or more.';
  const { ratio, days, expected, resolved } = found;
  if (ratio === null) {
    const little = expected <= resolved;
    return little
      ? `Calcium beside alkalinity: cannot tell. The alkalinity used in ${days} days takes ${numberWords(Math.max(0, expected), 0)} mg/L of calcium with it, and two calcium tests tell no less than ${numberWords(resolved, 0)}. Calcium neither confirms nor refutes what alkalinity did.`
      : `Calcium beside alkalinity: cannot tell. The interval over ${days} days is too wide to say anything.`;
  }
  const ends = `${numberWords(ratio.value, 0)} mg/L a meq/L (${numberWords(ratio.low, 0)} to ${numberWords(ratio.high, 0)}) over ${days} days`;
  const range = `Calcification takes 20.04; communities are measured to take ${COMMUNITY_RATIO.low} to ${COMMUNITY_RATIO.high}, more where there is sand or rock`;
  return isOutsideRange(ratio)
    ? `Calcium beside alkalinity: ${ends}. ${range}: the whole interval lies outside. Suspect a test, its hour or the strength of a dose before the water.`
    : `Calcium beside alkalinity: ${ends}. ${range}.`;
}

/** "Learned since 3 Nov 2026, 12 days: new salt."; empty where no event cut what was learnt. */
export function learntWords({ learntSince }: DemandData, timeZone: string, now: Date): string {
  if (learntSince === null) return '';
  const days = Math.floor(dayOf(now) - learntSince.day);
  const what = eventKinds[learntSince.kind].toLowerCase();
  return `Learned since ${dateWords(dateAtDay(learntSince.day), timeZone)}, ${dayCount(days)}: ${what}.`;
}
