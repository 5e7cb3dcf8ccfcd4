import { mmWords } from '../../platform/units/measures.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { scientificNameWords } from '../../stock/lots/identifications.ts';
import { unitName } from '../../water/quantities/quantities.ts';
import type { RecordedLight, RecordedWater, TagRecord } from './record.ts';
import { changedLast, figureWords } from './water-change.rules.ts';

/** One line of a record as pages and labels show it. */
export interface Fact {
  label: string;
  text: string;
  unit: string;
  small: string;
}

const fact = (label: string, text: string, unit = '', small = ''): Fact => ({ label, text, unit, small });

const stateWords: Record<string, string> = {
  well: 'well',
  paling: 'paling',
  bleached: 'bleached',
  receding: 'receding',
  polyps_shut: 'polyps shut',
  silt: 'silt on flesh',
  algae: 'algae on the mount',
  pest: 'a pest seen',
  loose: 'loose on its mount',
  jet: 'a jet on it',
  lost: 'lost',
  other: 'something noted',
};

/** "Goniastrea cf. edwardsi", with what the name is worth. */
export function nameWords(record: TagRecord): { name: string; qualified: boolean; standing: string } {
  const opinion = record.identification;
  if (opinion === null)
    return {
      name: record.kind,
      qualified: false,
      standing: 'named as the farm keeps it',
    };
  const { scientificName, identificationQualifier, identifiedBy, dateIdentified } = opinion;
  const qualified = identificationQualifier !== '';
  const name = scientificNameWords(scientificName, identificationQualifier);
  const by = `named by ${identifiedBy}, ${dateWords(dateIdentified, 'UTC')}`;
  return { name, qualified, standing: qualified ? `uncertain, sold as such; ${by}` : by };
}

/** What a trade name is worth; '' where there is none. */
export function soldAsWords({ tradeName }: TagRecord): string {
  return tradeName === undefined
    ? ''
    : `“${tradeName}” is what the seller calls it. It names no species, and the look of a piece proves no line.`;
}

/**
 * What the piece is called large: its trade name, else what the trade calls its kind where nobody identified it as
 * another, else its name as far as it is known.
 */
export function titleWords(record: TagRecord): string {
  const { identification, kind, tradeName, commonName } = record;
  const isKind = identification === null || identification.scientificName === kind;
  const title = tradeName ?? (isKind ? commonName : undefined) ?? nameWords(record).name;
  return capitalized(title);
}

type Light = NonNullable<TagRecord['light']>;

/** Whether its light was worked out rather than measured where it stands. */
export const isEstimate = ({ estimated, measuredHere }: Light): boolean =>
  estimated || measuredHere === false;

/** "111 ± 15, estimated": the light now, how far it is sure, and whether it was measured at its place. */
function parWords(light: Light): string {
  return `${light.par}${spreadWords(light.error)}${isEstimate(light) ? ', estimated' : ''}`;
}

/** " ± 15"; '' where it is not known, or nothing. */
export const spreadWords = (error = 0): string => (error > 0 ? ` ± ${error}` : '');

function lightFacts({ light, issuedAt }: TagRecord): Fact[] {
  if (light === null) return [fact('Light', 'not measured')];
  const said = light.estimated
    ? 'estimated: since it was measured the lamps or the rack were changed, or their setting then is not known'
    : light.measuredHere === false
      ? 'estimated: its own place was not measured, but places on the same rack'
      : '';
  const survey = light.measuredOn === null ? '' : `survey of ${dateWords(light.measuredOn, 'UTC')}`;
  const daily =
    light.hours > 0
      ? `, ${numberWords(light.dailyLight, 1)} mol a day`
      : '; how long it is lit a day is not known';
  const facts = [
    fact(
      'Light',
      `PAR ${light.par}${spreadWords(light.error)} at full light${isEstimate(light) ? ', estimated' : ''}${daily}`,
      '',
      [survey, said].filter((text) => text !== '').join('; '),
    ),
  ];
  if (light.hours <= 0) return facts;
  if (light.spans.length === 0)
    return [...facts, fact('Lived in', 'not known: its light was measured less than a day before')];
  const usedTo = [
    light.accustomed <= 0
      ? fact('Used to', 'not known: its light was not known for long enough')
      : fact(
          'Used to',
          `${numberWords(light.accustomed, 1)} mol a day`,
          '',
          `about PAR ${accustomedPar(light)} over ${numberWords(light.hours)} h${isEstimate(light) ? ', estimated' : ''}`,
        ),
  ];
  const spans = light.spans.map(
    ({ parLow, parHigh, dailyLight, error, ...stretch }) =>
      `PAR ${parLow === parHigh ? parLow : `${parLow} to ${parHigh}`}${spreadWords(error)}, ${numberWords(dailyLight, 1)} mol a day ${stretchWords(stretch, issuedAt)}`,
  );
  return [...facts, ...usedTo, fact('Lived in', spans.join('; '))];
}

/** "over 90 days", or since when it is known where that is less. */
function stretchWords(
  { days, knownFrom }: Pick<RecordedLight, 'days' | 'knownFrom'>,
  issuedAt: string,
): string {
  const known = knownFrom === undefined ? days : (Date.parse(issuedAt) - Date.parse(knownFrom)) / dayMs;
  return knownFrom === undefined || known > days - 1
    ? `over ${days} days`
    : `since ${dateWords(knownFrom, 'UTC')}; before that it is not known`;
}

/** The PAR that gives the accustomed daily light at the farm's own hours. */
export function accustomedPar(light: NonNullable<TagRecord['light']>): number {
  return light.dailyLight > 0 ? Math.round((light.accustomed / light.dailyLight) * light.par) : light.par;
}

function flowFact({ flow }: TagRecord): Fact {
  if (flow === null) return fact('Flow', 'not recorded');
  const span = flow.low === flow.high ? flow.low : `${flow.low} to ${flow.high}`;
  return fact('Flow', `${span}; ${flow.jet ? 'a steady jet reached it' : 'no jet on it'}`);
}

function waterFact(water: RecordedWater): Fact {
  // Where more than half of the tests saw nothing the middle one is a bound, and the lowest is where one did.
  const bound = (isBound: boolean) => (isBound ? '< ' : '');
  const say = (value: number) => numberWords(value, water.decimals);
  const middle = `${bound(2 * water.belowDetection > water.tests)}${say(water.median)}`;
  const low = `${bound(water.belowDetection > 0)}${say(water.low)}`;
  const high = `${bound(water.belowDetection === water.tests)}${say(water.high)}`;
  const span = water.low === water.high ? '' : `, ${low} to ${high}`;
  const said = changedLast(water)
    ? `${say(water.latest)} at the last test, mostly ${middle}${span}`
    : `${middle}${span}`;
  const waits =
    water.waiting === undefined ? '' : `. A later test read ${say(water.waiting)} and waits for a repeat`;
  const below = water.belowDetection > 0 ? `, ${water.belowDetection} of them below detection` : '';
  const small = `${plural(water.tests, 'test', 'tests')}${testedWords(water)}${below}${waits}${water.doubt === '' ? '' : `. ${water.doubt}`}`;
  return fact(water.name, said, unitName(water.quantity, water.unit), small);
}

/** From when to when it was tested; earlier records only say that it was within 30 days. */
function testedWords({ from, to }: RecordedWater): string {
  if (from === undefined || to === undefined) return ' in 30 days';
  const day = (text: string) => dateWords(text, 'UTC');
  return from === to ? ` on ${day(from)}` : `, ${day(from)} to ${day(to)}`;
}

/** What was dosed, or that nothing is; none where neither is known. */
function dosingFacts({ dosing }: TagRecord): Fact[] {
  if (dosing == null) return [];
  const { days, substances, nothingSince } = dosing;
  if (substances.length === 0)
    return nothingSince === null
      ? []
      : [fact('Dosed', 'nothing', '', `since ${dateWords(nothingSince, 'UTC')}, as the farm says`)];
  const said = substances.map(({ substance, times }) => `${substance} ${plural(times, 'time', 'times')}`);
  return [fact('Dosed', said.join(', '), '', `recorded in ${days} days`)];
}

function feedingFact({ feeding }: TagRecord): Fact {
  if (feeding.times === 0) return fact('Fed', `no feeding recorded in ${feeding.days} days`);
  const pumps = feeding.pumpsOffMin === null ? '' : `, pumps off ${feeding.pumpsOffMin} min`;
  return fact(
    'Fed',
    `${plural(feeding.times, 'time', 'times')} in ${feeding.days} days${pumps}`,
    '',
    feeding.foods.join(', '),
  );
}

/** "14 months", "9 weeks", "12 days" from a moment to when the record was issued. */
export function ageWords(from: string, to: string): string {
  const days = Math.max(0, Math.floor((Date.parse(to) - Date.parse(from)) / dayMs));
  if (days >= 120) return plural(Math.floor(days / 30.4), 'month', 'months');
  if (days >= 21) return plural(Math.floor(days / 7), 'week', 'weeks');
  return plural(days, 'day', 'days');
}

/** "3 days before", "the same day". */
function beforeWords(from: string, to: string): string {
  const within = Date.parse(to) - Date.parse(from) < dayMs;
  return within ? 'the same day' : `${ageWords(from, to)} before`;
}

function historyFacts(record: TagRecord): Fact[] {
  const cut =
    record.cut === null
      ? []
      : [fact('Cut', `${ageWords(record.cut.at, record.issuedAt)} before, from ${record.cut.from}`)];
  const descent = record.descent.length > 1 ? [fact('Descent', record.descent.join(', from '))] : [];
  const size = record.sizeMm === null ? [] : [fact('Size', `about ${mmWords(record.sizeMm)}`)];
  const permit = record.permit === '' ? [] : [fact('Permit', record.permit)];
  const look = record.condition;
  const seen =
    look === null
      ? fact('Looked', 'no look recorded')
      : fact('Looked', stateWords[look.state] ?? look.state, '', beforeWords(look.at, record.issuedAt));
  return [
    fact('With us', ageWords(record.arrivedAt, record.issuedAt)),
    ...cut,
    ...descent,
    ...size,
    seen,
    ...permit,
  ];
}

/** The whole record in lines. */
export function recordFacts(record: TagRecord): Fact[] {
  return [
    ...lightFacts(record),
    flowFact(record),
    ...(record.water.length > 0 ? record.water.map(waterFact) : [fact('Water', 'not tested in 30 days')]),
    ...dosingFacts(record),
    feedingFact(record),
    ...historyFacts(record),
  ];
}

/** The few lines of a label. */
export function labelFacts(record: TagRecord): Fact[] {
  const short = new Set(['alkalinity', 'calcium', 'nitrate', 'salinity', 'temperature']);
  const water = record.water
    .filter((one) => short.has(one.quantity))
    .map((one) => {
      const name = one.name.slice(0, one.quantity === 'alkalinity' ? 3 : undefined);
      // What it comes out of stands first: a label has room for little else.
      return changedLast(one)
        ? `${name} ${figureWords(one, one.latest)}, mostly ${numberWords(one.median, one.decimals)}`
        : `${name} ${figureWords(one, one.median)}`;
    });
  const light =
    record.light === null
      ? 'not measured'
      : `PAR ${parWords(record.light)}${record.light.hours > 0 ? `, ${numberWords(record.light.dailyLight, 1)} mol a day` : ''}`;
  return [
    fact('Light', light),
    fact('Flow', flowFact(record).text),
    fact('Water', water.length > 0 ? water.join(' · ') : 'no tests in 30 days'),
    fact('Fed', feedingFact(record).text),
    fact(
      'With us',
      historyFacts(record)
        .filter(({ label }) => label === 'With us' || label === 'Cut')
        .map(({ label, text }) => (label === 'Cut' ? `cut ${text}` : text))
        .join('; '),
    ),
  ];
}
