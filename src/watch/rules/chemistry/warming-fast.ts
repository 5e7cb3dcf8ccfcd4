import { advised, air, done, down, measure, noted, people, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { scales } from '../../../platform/units/scales.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { acuteAt } from '../../../water/acute/acute-states.rules.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import { momentOfDay, type SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { facetEnded } from '../endings/water.ts';
import { chosenBand } from '../levels/chosen-band.ts';
import { plannedShift } from '../levels/correction-offset.ts';
import { type ShownValue, sustainedRun, valuesOf } from '../levels/shown-values.ts';
import { lowerMiddle } from '../levels/spacing.ts';
import { amount, quantityNamed } from '../shared/words.ts';

const parameters = {
  temperature: {
    label: 'Temperature above the week’s usual high by',
    unit: '°C',
    scale: scales.byDegC,
    default: 1,
    low: 0.3,
    high: 4,
    source:
      'own choice: three times the error of a thermometer; from 1 °C above their usual summer corals are under stress',
  },
  grave: {
    label: 'Act now from above the week’s usual high by',
    unit: '°C',
    scale: scales.byDegC,
    default: 2,
    low: 0.5,
    high: 6,
    source: 'own choice: a warm room seldom does this in a day, a heater that sticks on does',
  },
};

const name = 'warming-fast';
/** The newest of the last two values is no older than this, and they stand no further apart; days. */
const [together, fresh] = [8 / 24, 6 / 24];
/** What is usual is learnt from the seven days before the last half day: from so many values, on so many days at least. */
const [usualDays, leftOut, fewest, fewestDays] = [7, 0.5, 5, 3];

/** Water that became warmer than it was in all of its week, though its band still allows it: a heater that sticks on. */
export const warmingFast = defineRule({
  name,
  heading: 'Temperature rises fast',
  watches:
    'Warns when two values running of the temperature are well above the highs of the last week, of one probe at least 20 minutes apart, as a heater that sticks on, a cooler or pump that fails or a hot room make it within hours. The target band makes no difference: a band that is wide would hide it.',
  byKind: false,
  parameters,
  quietHours: 6,
  untried: 'This rule looks at hours; tried once a day it shows only what was warm at that hour.',
  ended: facetEnded,
  evaluate(facts, settings, now) {
    const warmth = warmthOf(facts, now);
    const values = settings();
    return warmth === null || warmth.by < values.temperature ? [] : [finding(facts, warmth, values)];
  },
});

/** How far above what is usual the last two values that bear each other out stand, and what they are. */
interface Warmth {
  usualHigh: number;
  /** By how much the lowest of the last two, and of those between, stands above it. */
  by: number;
  before: ShownValue;
  last: ShownValue;
}

/**
 * The usual high is the middle one of the days' highs: one hot day does not make it usual, and water that stays warm is told for
 * some days. What a correction planned is taken out.
 */
function warmthOf(facts: SystemFacts, now: Date): Warmth | null {
  const today = dayOf(now);
  const shift = plannedShift(facts.corrections, 'temperature', today);
  const values = valuesOf(facts, 'temperature').map((one) => ({ ...one, aside: one.value - shift(one.day) }));
  const run = sustainedRun(values);
  const [before, last] = [run[0], run.at(-1)];
  if (before === undefined || last === undefined) return null;
  if (today - last.day > fresh || last.day - before.day > together) return null;
  const until = last.day - leftOut;
  const older = values.filter(({ day }) => day < until && day >= last.day - usualDays);
  const days = [...Map.groupBy(older, ({ day }) => Math.floor(until - day)).values()];
  if (older.length < fewest || days.length < fewestDays) return null;
  const highs = days.map((day) => Math.max(...day.map(({ aside }) => aside)));
  const usualHigh = highOf(highs, older.length / days.length) + shift(last.day);
  const by = Math.min(...run.map(({ aside }) => aside)) + shift(last.day) - usualHigh;
  return { usualHigh, by, before, last };
}

/** So many values a day show the day's high by themselves; own choice. */
const oftenADay = 6;

/**
 * The middle of the days' highs; of a few tests a day, which meet the warm hours by chance and come from thermometers that differ, the
 * second highest: one hot day still makes nothing usual.
 */
function highOf(highs: readonly number[], aDay: number): number {
  if (aDay >= oftenADay) return lowerMiddle(highs);
  return highs.toSorted((a, b) => b - a)[1] ?? lowerMiddle(highs);
}

function finding(
  facts: SystemFacts,
  { usualHigh, by, before, last }: Warmth,
  limits: Values<typeof parameters>,
): Finding {
  const quantity = quantityNamed(facts, 'temperature');
  const two = [before, last];
  const now =
    by >= limits.grave ||
    acuteAt('temperature', last.value, chosenBand(facts, 'temperature'))?.side === 'above';
  const severity: Severity = now ? 'now' : 'today';
  return {
    ...plainFinding,
    rule: name,
    subject: { type: 'system', id: facts.systemId },
    facet: 'temperature',
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}?quantity=temperature`,
    status: 'fires',
    severity,
    score: 1 + by / limits.temperature,
    title: `${facts.name}: much warmer than all week`,
    numbers: `${two.map(({ value }) => say(quantity, value)).join(', then ')}; high of the week ${say(quantity, usualHigh)}`,
    number: amount(quantity, 'Last temperature', last.value),
    limit: {
      ...amount(quantity, 'Usual high of the week', usualHigh),
      source: 'the middle of the daily highs of seven days, as this system’s own values show them',
    },
    figures: [
      { label: 'Above its usual high', text: sayDifference(quantity, last.value - usualHigh, last.value) },
    ],
    why: 'A heater or its controller that sticks on warms water within hours. So do a cooler or pump that failed and a hot room. Stock lives by what it is used to: a band that allows more says nothing of so quick a change.',
    ...advised(
      people('Switch off before a hand goes in: a cracked heater makes the water live.'),
      air('Take lids off, set a fan over the water, turn air up.', done('air')),
      source('Unplug a heater that is on. Look whether it sticks on or a pump is jammed.', down('heating')),
      noted(
        measure('Read a second thermometer now, and again within half an hour.'),
        'The steps before this cost nothing if the first one was wrong.',
      ),
    ),
    evidence: two.map(({ day, value, evidence }) => ({
      ...evidence,
      at: momentOfDay(day).toISOString(),
      text: say(quantity, value),
      note: '',
    })),
    causes: [{ rule: 'out-of-band', subject: { type: 'system', id: facts.systemId }, facet: 'temperature' }],
  };
}
