import { advised, again, asking, measure } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { plural } from '../../../platform/words/numbers.ts';
import { onsetOf } from '../../../science/control/onset.ts';
import {
  rangeOfLast,
  type SwingReading,
  type SwingStep,
  swingOptions,
} from '../../../science/filter/swing.ts';
import { type Lately, stepEvidence } from '../../../science/filter/swing-or-trend.ts';
import { dateAtDay } from '../../../science/numeric/time.ts';
import { convertDifference } from '../../../science/units/convert.ts';
import { demandDay, demandRecord } from '../../../water/demand/demand-record.rules.ts';
import { demandShift } from '../../../water/demand/shift.rules.ts';
import { say, sayDifference, showDifference } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import type { Shift } from '../levels/correction-offset.ts';
import { kitJudgements } from '../levels/kit-bias.ts';
import { sinceLastEvent } from '../levels/last-event.ts';
import { lowerMiddle } from '../levels/spacing.ts';
import { judgeReadings } from '../levels/trusted-readings.ts';
import { dateOfDay, figure, quantityNamed, readingEvidence } from '../shared/words.ts';
import type { BesideTheLog } from './logged-moves.ts';
import { trendDkh } from './swing-evidence.ts';
import { swingParameters, swingRule, type Watched, watchedSwing } from './swing-watch.ts';

const shownDays = 21;
const weekDays = 7;

/** What the tests say of a swing, by the bottle before where two differ; null where they say nothing of one. */
export const swingFinding = (
  facts: SystemFacts,
  values: Values<typeof swingParameters>,
  now: Date,
): Finding | null =>
  judgeReadings(
    facts,
    'alkalinity',
    now,
    (readings) => judge(facts, sinceLastEvent(facts, readings), values, now),
    'the bottle before',
  );

function judge(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  values: Values<typeof swingParameters>,
  now: Date,
): Finding | null {
  const seen = watchedSwing(facts, readings, values, now);
  if (seen === null) return null;
  const found = finding(facts, readings, seen, values);
  return seen.trend === null ? withUseInDoubt(facts, found, now) : asTrend(facts, found, seen.trend);
}

/** A change of the use by this much could not be seen; own choice: what is told of a use that falls. */
const unseenShare = 0.2;

/** While what goes in differs from day to day, nobody knows what is used: said here, once, rather than as a change of the use. */
function withUseInDoubt(facts: SystemFacts, finding: Finding, now: Date): Finding {
  const shift = demandShift(
    demandRecord(facts, 'alkalinity', kitJudgements(facts)),
    demandDay(facts, 'alkalinity', now),
  );
  if (shift === null || 2 * shift.doseSd < unseenShare * shift.usual) return finding;
  return {
    ...finding,
    why: `${finding.why} Use cannot be judged while the dose swings, unless the container is looked into each week.`,
    ...advised(
      ...finding.advice,
      measure(
        'Note what is left in the dosing container, today and each week: a fall of the use shows by it alone.',
      ),
    ),
    figures: [...finding.figures, { label: 'Used a day', text: 'cannot be judged while the dose swings' }],
  };
}

/** What moves one way inside its band is told as that, mildly: nothing swings. */
function asTrend(facts: SystemFacts, finding: Finding, { slope, slopeSd, days }: Lately): Finding {
  const quantity = quantityNamed(facts, 'alkalinity');
  const level = facts.readings.get('alkalinity')?.at(-1)?.value ?? 0;
  const aDay = (value: number) => `${sayDifference(quantity, value, level)} a day`;
  const way = slope < 0 ? 'falls' : 'rises';
  const moved = Math.abs(slope) * days;
  const least = convertDifference('alkalinity', trendDkh, 'dKH', 'meq/L');
  const { subject } = finding;
  const leads =
    slope < 0
      ? { rule: 'alkalinity-falling', subject, facet: '' }
      : { rule: 'out-of-band', subject, facet: 'alkalinity' };
  return {
    ...finding,
    severity: 'watch',
    facet: 'trend',
    title: `${facts.name}: alkalinity ${way} steadily`,
    numbers: `by ${aDay(Math.abs(slope))} over ${plural(Math.round(days), 'day', 'days')}`,
    number: { label: 'Moved by its line', value: moved, ...showDifference(quantity, moved, level) },
    limit: {
      ...{ label: 'Told from', value: least, ...showDifference(quantity, least, level) },
      source: 'own choice',
    },
    large: null,
    began: null,
    figures: [
      { label: way === 'falls' ? 'Falls' : 'Rises', text: `${aDay(Math.abs(slope))}, ± ${aDay(slopeSd)}` },
    ],
    why: 'It does not swing about this line more than usual here. What is dosed and what is used no longer match.',
    ...advised(
      asking('doser', measure('Compare what the doser gives with its setting.')),
      asking('test', measure('Test once more at the same hour.')),
      again('Look at the line again in three days.'),
    ),
    causes: [leads, ...finding.causes],
  };
}

function finding(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  { steps, beside, sum, limit, status, perDkh }: Watched,
  values: Values<typeof swingParameters>,
): Finding {
  const quantity = quantityNamed(facts, 'alkalinity');
  const tests = steps.map(({ reading }) => reading);
  const last = steps.at(-1) as SwingStep;
  const range = rangeOfLast(tests, last.day) ?? 0;
  const usualRange = usualWeek(tests, last.day);
  const opens = values.caution * limit;
  const difference = (value: number) => sayDifference(quantity, value, last.mean);
  const aside = wordsAside(quantity, beside, last, range);
  const usually = usualRange === null ? '' : showDifference(quantity, usualRange, last.mean).text;
  const inDays = `in seven days${aside === '' ? '' : ` ${aside}`}${usually === '' ? '' : `, usually ${usually}`}`;
  return {
    ...plainFinding,
    rule: swingRule,
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status,
    severity: severityOf(beside.asRead, perDkh, values.jump),
    score: sum / opens,
    title: `${facts.name}: alkalinity swings`,
    numbers: `${difference(range)} ${inDays}`,
    number: figure('How surely it swings twice as much', sum, 1),
    large: { ...showDifference(quantity, range, last.mean), more: inDays },
    began: onsetBounds(steps),
    limit: {
      ...figure('Alarm at', opens, 1),
      source: `By the gap between tests and their uncertainty; ${swingParameters.caution.source}.`,
    },
    figures: [
      {
        label: `Moved in seven days${aside === '' ? '' : `, ${aside}`}`,
        text: difference(range),
      },
      ...figuresOf(facts, last, beside.shift),
      ...onsetFigure(facts, steps),
    ],
    why: `This is more than test error (±${difference(last.reading.sd)}) and more than usual here. Steadiness matters more than the exact value.`,
    ...advised(
      asking(
        'doser',
        measure('Look at the doser before dosing anything: line, air, container, calibration.'),
      ),
      again('Then test at the same hour for three days.'),
    ),
    evidence: readingEvidence(
      quantity,
      readings.filter(({ day }) => day > last.day - shownDays),
    ),
  };
}

/** What a move of seven days leaves out, where it shows in the figure. */
function wordsAside(
  quantity: ReturnType<typeof quantityNamed>,
  { asRead, shift, of }: BesideTheLog,
  last: SwingStep,
  range: number,
): string {
  if (of === 'plan') return shift(last.day) === shift(last.day - weekDays) ? '' : 'beside the correction';
  const text = (value: number) => showDifference(quantity, value, last.mean).text;
  return text(rangeOfLast(asRead, last.day) ?? 0) === text(range) ? '' : 'beside what was put in';
}

function figuresOf(facts: SystemFacts, last: SwingStep, shift: Shift): Finding['figures'] {
  const quantity = quantityNamed(facts, 'alkalinity');
  const difference = (value: number) => sayDifference(quantity, value, last.mean);
  const { usualSd, usualSwing, mean, reading } = last;
  return [
    { label: 'Own mean', text: say(quantity, mean + shift(last.day)) },
    {
      label: 'Usual swing, test and water',
      text: `${difference(usualSd)}; the water’s own part ${difference(usualSwing)}`,
    },
    { label: 'Test uncertainty', text: difference(reading.sd) },
  ];
}

/** Longer intervals say nothing anybody can act on (own choice). */
const longestOnsetDays = 45;

/**
 * When the swing began, as the interval that holds it nine times in ten by the same evidence that raises the alert; nothing
 * where that is too wide to help. It began after the test before the interval's first.
 */
function onsetFigure(facts: SystemFacts, steps: readonly SwingStep[]): Finding['figures'] {
  const found = onsetDays(steps);
  if (found === null) return [];
  const text = `between ${dateOfDay(found.from, facts)} and ${dateOfDay(found.to, facts)} (90 % likely)`;
  return [{ label: 'Began to swing', text }];
}

function onsetDays(steps: readonly SwingStep[]): { from: number; to: number } | null {
  const options = swingOptions(1);
  const { from, to } = onsetOf(steps.map((step) => stepEvidence(step, options)));
  const [before, first, last] = [steps[from - 1], steps[from], steps[to]];
  if (before === undefined || first === undefined || last === undefined) return null;
  return last.day - before.day > longestOnsetDays ? null : { from: before.day, to: last.day };
}

function onsetBounds(steps: readonly SwingStep[]): Finding['began'] {
  const found = onsetDays(steps);
  if (found === null) return null;
  return { from: dateAtDay(found.from).toISOString(), to: dateAtDay(found.to).toISOString() };
}

/** The middle of the seven-day ranges between 28 and 120 days ago; null without any. */
function usualWeek(tests: readonly SwingStep['reading'][], today: number): number | null {
  const ranges = Array.from({ length: 14 }, (_, week) => rangeOfLast(tests, today - 28 - 7 * week));
  const known = ranges.filter((range) => range !== null);
  return known.length === 0 ? null : lowerMiddle(known);
}

/** A change of the last days that was quicker than corals bear. */
function severityOf(tests: readonly SwingReading[], perDkh: number, jumpDkh: number): Severity {
  const recent = tests.slice(-4);
  const quick = recent.slice(1).some((reading, i) => {
    const before = recent[i] ?? reading;
    const error = 2 * Math.hypot(reading.sd, before.sd);
    const days = Math.max(1, reading.day - before.day);
    return (Math.abs(reading.value - before.value) - error) / days > jumpDkh * perDkh;
  });
  return quick ? 'now' : 'today';
}
