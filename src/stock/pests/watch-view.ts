import { timeChart } from '../../platform/charts/time-chart.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { fixed } from '../../platform/units/everyday.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords, whenWords } from '../../platform/words/times.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { GRADE_WORDS } from '../base/condition-states.rules.ts';
import { lotHref } from '../base/lot-href.ts';
import { clockOfWatch, type DayTemperature } from './clock.rules.ts';
import { clearWords, cycleWords, hatchWords, treatmentWords } from './clock.words.ts';
import { ACT_WORDS, type Act, PESTS, type Pest, pestOf } from './pests.rules.ts';
import { keptReasons, type Left, leftSince, lotsInWater, type WatchState } from './state.ts';
import { totalWords } from './treatments.rules.ts';

/** What left the water is listed from one cycle before the first sighting; so many days where it is not known (own choice). */
const LEFT_DAYS = 64;

function leftWords({ way, to }: Pick<Left, 'way' | 'to'>): string {
  if (way === 'given') return 'Given away';
  if (way === 'sold') return `Sold to ${to === '' ? 'a buyer nobody named' : to}`;
  return to === '' ? 'On no rack' : `Moved to ${to}`;
}

const waterName = ({ systemName, tankName }: WatchState) =>
  tankName === '' ? systemName : `${systemName}, ${tankName}`;

/** A watch in a list. */
export function watchRow(watch: WatchState, temperatures: readonly DayTemperature[], now: Date) {
  const clock = clockOfWatch(watch, temperatures);
  const lots = new Set(watch.sightings.map(({ lotId }) => lotId)).size;
  return {
    id: watch.id,
    href: `/stock/pests/${watch.id}`,
    pest: pestOf(watch.pest).name,
    water: waterName(watch),
    systemId: watch.systemId,
    seen: lots === 0 ? watch.openedWhy : `seen on ${plural(lots, 'lot', 'lots')}`,
    since: clock.since,
    nextLook: clock.nextLook,
    due: now >= clock.nextLook,
    treatment: treatmentWords(clock, watch.timeZone, now),
    clear: clearWords(clock, watch.timeZone, now),
    ended: watch.endedAt !== null,
    endedAt: watch.endedAt,
    endedWhy: watch.endedWhy,
  };
}

const answerWords = { refused: 'refused', asked: 'with a reason', free: 'as usual' };

function ruleWords(rule: Readonly<Record<Act, keyof typeof answerWords>>): string {
  return Object.entries(ACT_WORDS)
    .map(([act, words]) => `${words}: ${answerWords[rule[act as Act]]}`)
    .join('; ');
}

const daysWords = (figures: Pest['hatch']): string =>
  figures.length === 0
    ? 'not known'
    : figures
        .map(
          ({ degC, days }) =>
            `${days} days${degC === null ? ' (no temperature told)' : ` at ${fixed.degC(degC)}`}`,
        )
        .join(', ');

/** The table of pests: what is known of each, and what its rule says. */
export const pestRows = PESTS.map((pest) => ({
  code: pest.code,
  name: pest.name,
  hosts: pest.hosts,
  spreads: pest.spreads,
  hatch: daysWords(pest.hatch),
  cycle: daysWords(pest.cycle),
  source: pest.source,
  treating: pest.treating,
  seenOn: ruleWords(pest.rule.seenOn),
  sharing: ruleWords(pest.rule.sharing),
  ruleSource: pest.rule.source,
}));

/** How many were counted when: on lots, in looks at the whole water, before treatments. */
function countsOf({ sightings, looks, treatments }: WatchState): { at: Date; value: number; what: string }[] {
  const days = Map.groupBy(
    sightings.filter(({ counted }) => counted !== null),
    ({ at }) => at.toISOString().slice(0, 10),
  );
  return [
    ...[...days.values()].map((day) => ({
      at: day[0]?.at ?? new Date(0),
      value: day.reduce((sum, { counted }) => sum + (counted ?? 0), 0),
      what: `on ${day.map(({ code }) => code).join(', ')}`,
    })),
    ...looks.map(({ at, found }) => ({ at, value: found, what: 'look at the whole water' })),
    ...treatments.flatMap(({ at, countedBefore, product }) =>
      countedBefore === null ? [] : [{ at, value: countedBefore, what: `before ${product}` }],
    ),
  ].sort((a, b) => a.at.getTime() - b.at.getTime());
}

function chartOf(watch: WatchState, now: Date) {
  const counts = countsOf(watch);
  if (counts.length < 2) return null;
  const to = watch.endedAt ?? now;
  const draw = (width: number) =>
    timeChart({
      ...{ width, height: 260, timeZone: watch.timeZone, to },
      label: `Counted over time: ${counts.map(({ value }) => value).join(', ')}`,
      from: daysBefore(watch.openedAt, 1),
      isCount: true,
      points: counts.map(({ at, value }) => ({ at, value, error: 0, kind: 'plain' })),
      events: watch.treatments.map(({ at }) => ({ at, kind: 'tall' })),
    });
  return { wide: draw(960), narrow: draw(360) };
}

/** One watch as its page shows it. Three queries. */
export async function watchData(
  reader: SqlReader,
  watch: WatchState,
  temperatures: readonly DayTemperature[],
  now: Date,
) {
  const clock = clockOfWatch(watch, temperatures);
  const pest = pestOf(watch.pest);
  const { timeZone } = watch;
  const first = Math.min(...[watch.openedAt, ...watch.sightings.map(({ at }) => at)].map(Number));
  const since = daysBefore(new Date(first), Math.ceil(clock.cycle.high ?? LEFT_DAYS));
  const lots = await lotsInWater(reader, watch);
  const left = await leftSince(reader, watch, since);
  const reasons = await keptReasons(reader, watch.id);
  const when = (at: Date) => whenWords(at, timeZone, now);
  const lotRow = (code: string) => ({ code, href: lotHref(code) });
  return {
    ...watchRow(watch, temperatures, now),
    heading: `${pest.name}: ${waterName(watch)}`,
    unnamed: watch.pest === 'unnamed',
    version: watch.version,
    facts: [
      {
        label: 'Counts from',
        text: when(clock.since),
        small: {
          sighting: 'the last sighting',
          arrival: 'the last lot that came',
          opening: watch.openedWhy === '' ? 'its beginning' : `its beginning: ${watch.openedWhy}`,
        }[clock.sinceWhat],
      },
      { label: 'Eggs hatch after', text: hatchWords(clock) },
      { label: 'Whole cycle', text: cycleWords(clock) },
      { label: 'Source', text: pest.source },
      { label: 'Next look', text: when(clock.nextLook) },
      { label: 'Treat', text: treatmentWords(clock, timeZone, now) },
      { label: 'Clear after', text: clearWords(clock, timeZone, now) },
    ],
    spreads: pest.spreads,
    treating: pest.treating,
    rules: {
      seenOn: ruleWords(pest.rule.seenOn),
      sharing: ruleWords(pest.rule.sharing),
      source: pest.rule.source,
    },
    sightings: watch.sightings
      .toReversed()
      .map(({ code, at, counted, grade, note, by, deliveryId, supplier }) => ({
        ...{ ...lotRow(code), at, note, by, supplier },
        delivery: deliveryId === null ? '' : `/stock/deliveries/${deliveryId}`,
        words: [
          GRADE_WORDS[grade as 1 | 2 | 3] ?? '',
          counted === null ? 'not counted' : `${numberWords(counted)} counted`,
        ]
          .filter((part) => part !== '')
          .join(', '),
      })),
    looks: watch.looks.toReversed().map(({ id, at, found, note, by }) => ({
      ...{ id, at, note, by },
      words: found === 0 ? 'None found' : `${numberWords(found)} found`,
    })),
    treatments: watch.treatments.toReversed().map((one) => ({
      ...one,
      total: totalWords(one),
      again: one.againOn === null ? 'not known' : dateWords(one.againOn, timeZone),
      codes: one.lots.map(({ code }) => code).join(', '),
      lostWords: one.lost === 0 ? 'none noted' : plural(one.lost, 'piece', 'pieces'),
    })),
    arrivals: watch.arrivals.toReversed().map(({ code, at }) => ({ ...lotRow(code), at })),
    sharing: lots.map(({ code, kind, pieces }) => ({ ...lotRow(code), kind, pieces })),
    leftSince: dateWords(since, timeZone),
    left: left.map(({ code, at, pieces, ...gone }) => ({
      ...{ ...lotRow(code), at, pieces },
      to: leftWords(gone),
    })),
    reasons: reasons.map(({ code, act, reason, at, by }) => ({
      ...{ ...lotRow(code), reason, at, by },
      act: ACT_WORDS[act as Act],
    })),
    counts: countsOf(watch).map(({ at, value, what }) => ({ at, value, what })),
    chart: chartOf(watch, now),
  };
}
