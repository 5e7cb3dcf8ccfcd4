import { advised, hold, measure } from '../../../alerts/advice.ts';
import {
  type Amount,
  type Finding,
  type FindingKey,
  plainFinding,
  type Severity,
} from '../../../alerts/finding.ts';
import { isUnchecked } from '../../../alerts/unchecked.rules.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { boundMark, say, sayBand, sayDifference, sayReading } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { bottleQuestion } from '../levels/bottle-question.ts';
import { chosenBand } from '../levels/chosen-band.ts';
import { bearableLevels, safeLevels, safeSource } from '../levels/danger.ts';
import { type Edges, nearestEdge, type Side } from '../levels/edges.ts';
import { beyondByTests, type Level } from '../levels/level-against-band.ts';
import type { LevelTrack } from '../levels/level-filter.ts';
import { hoursToAcute } from '../levels/speed.ts';
import { amount, nameOf, percent, quantityNamed, readingEvidence } from '../shared/words.ts';
import { adviceOn } from './advice.ts';
import { bandFigures } from './figures.ts';
import type { SalinityShare } from './salinity-share.ts';
import { unsaidOf } from './unsaid-doses.ts';

/** What is known of one quantity as it is judged. */
export interface JudgedQuantity {
  facts: SystemFacts;
  code: string;
  readings: readonly ReadingFact[];
  edges: Edges;
  track: LevelTrack;
  level: Level;
  now: Date;
}

type What =
  | { kind: 'outside'; side: Side; edge: number; distance: number; z: number }
  | { kind: 'leaving'; side: Side; edge: number; chance: number; days: number; perDay: number }
  | { kind: 'running'; side: Side; edge: number; hours: number };

interface How {
  status: Finding['status'];
  /** A running correction repairs it as planned. */
  held: boolean;
  /** The salinity alone puts it there, or would, if its newest test is borne out. */
  bySalt: (SalinityShare & { usual: number }) | null;
}

const shownReadings = 15;

const startingQuestion =
  'Is this where you mean to keep it? Then type your own band on the page of what the system keeps. If the band is right for you, confirm it there.';

/** What the rule says of a quantity that stands outside its band or drifts out of it. */
export function bandFinding(seen: JudgedQuantity, what: What, how: How): Finding {
  const { facts, code, readings } = seen;
  const quantity = quantityNamed(facts, code);
  return {
    ...plainFinding,
    rule: 'out-of-band',
    subject: { type: 'system', id: facts.systemId },
    facet: code,
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status: how.status,
    severity: severityOf(seen, what),
    score: scoreOf(seen, what),
    title: titleOf(seen, what, how),
    numbers: numbersOf(seen, what),
    number:
      what.kind === 'running'
        ? amount(quantity, 'Last reading', readings.at(-1)?.value ?? seen.level.value)
        : levelAmount(seen),
    limit: {
      ...amount(
        quantity,
        what.kind === 'running'
          ? 'Stock is in danger at'
          : `${what.side === 'below' ? 'Lower' : 'Upper'} edge of ${isOwn(seen, what.side) ? 'the band' : 'the safe range'}`,
        what.edge,
      ),
      source: what.kind === 'running' ? safeSource : sourceOf(seen, what.side),
    },
    figures: figuresOf(seen, what, how),
    ...(how.bySalt === null || (how.bySalt.waits && isBeyondBearing(seen))
      ? bandAdvice(seen, what)
      : bySaltAdvice(seen, how.bySalt)),
    question: mayBeMeant(seen, what) ? startingQuestion : bottleQuestion(facts, code),
    evidence: readingEvidence(quantity, readings.slice(-shownReadings)),
    causes: causesOf(seen, what.side, how),
    side: what.side,
    ...(isUnchosenAlone(seen, what) ? { unchosenBand: true } : {}),
  };
}

/** Whether the edge on this side is of a band the system keeps. */
const isOwn = ({ facts, code }: JudgedQuantity, side: Side): boolean =>
  (side === 'below' ? facts.kept.get(code)?.bandLow : facts.kept.get(code)?.bandHigh) != null;

/** Where the edge comes from; beyond the safe range the band's own source decides nothing. */
function sourceOf(seen: JudgedQuantity, side: Side): string {
  const own = seen.facts.kept.get(seen.code)?.source ?? '';
  if (!isOwn(seen, side)) return safeSource;
  return isUnchecked(own) && isBeyondBearing(seen) ? safeSource : own;
}

const isBeyondBearing = ({ code, level }: JudgedQuantity): boolean =>
  nearestEdge(level.value, bearableLevels(code)).distance > 0;

/** Whether the edge on this side is of a band that nobody has chosen yet. */
const isStarting = (seen: JudgedQuantity, side: Side): boolean =>
  isOwn(seen, side) && seen.facts.kept.get(seen.code)?.starting === true;

/** Whether somebody may mean to keep it there: outside a band that nobody chose, but neither jumped, nor running, nor in danger. */
const mayBeMeant = (seen: JudgedQuantity, what: What): boolean =>
  isStarting(seen, what.side) &&
  what.kind !== 'running' &&
  !hasJumped(seen, what) &&
  severityOf(seen, what) !== 'now';

/** Whether nothing but a band that nobody chose says that the level is wrong: it has not jumped, and does no harm by what is known. */
const isUnchosenAlone = (seen: JudgedQuantity, what: What): boolean =>
  mayBeMeant(seen, what) && nearestEdge(seen.level.value, safeLevels(seen.code)).distance <= 0;

function titleOf(seen: JudgedQuantity, what: What, { held, bySalt }: How): string {
  const { facts, code, level } = seen;
  const name = `${facts.name}: ${nameOf(facts, code)}`;
  const own = isStarting(seen, what.side) ? 'its starting band' : 'its band';
  const band = isOwn(seen, what.side) ? own : 'the safe range';
  if (what.kind === 'running') return `${name} ${what.side === 'below' ? 'falls' : 'rises'} fast`;
  if (what.kind === 'leaving') return `${name} leaves ${band}`;
  const edge = isOwn(seen, what.side) ? `at the edge of ${band}` : `barely outside ${band}`;
  const place = what.z < 1 ? edge : `${what.side} ${band}`;
  if (held) return `${name} is ${place}, corrected now`;
  if (bySalt !== null && !bySalt.waits) return `${name} is ${place} with the salinity`;
  return `${name} ${level.from === 'unconfirmed' ? 'reads' : 'is'} ${place}`;
}

function numbersOf(seen: JudgedQuantity, what: What): string {
  const { facts, code, edges, level } = seen;
  const quantity = quantityNamed(facts, code);
  if (what.kind === 'running')
    return `${sayReading(quantity, { value: seen.readings.at(-1)?.value ?? level.value, below: false })}; at the speed of the last two tests ${acuteWords(seen, what, what.hours)}`;
  const own = isStarting(seen, what.side) ? 'starting band' : 'band';
  const here = `${sayReading(quantity, boundOf(seen) ?? { value: level.value, below: false })}; ${isOwn(seen, what.side) ? own : 'safe range'} ${sayBand(quantity, finite(edges.low), finite(edges.high)) ?? ''}`;
  if (what.kind === 'outside') return here;
  const { perDay } = what;
  return `${here}; ${perDay < 0 ? 'falls' : 'rises'} by ${sayDifference(quantity, Math.abs(7 * perDay), level.value)} a week`;
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

function figuresOf(seen: JudgedQuantity, what: What, { bySalt }: How): Finding['figures'] {
  const { facts, code, level, track } = seen;
  const quantity = quantityNamed(facts, code);
  const sure = `± ${sayDifference(quantity, level.sd, level.value)}`;
  const bound = boundOf(seen);
  const figures =
    bound === null
      ? [{ label: 'Uncertainty of the level', text: sure }]
      : [
          bound.below
            ? {
                label: 'How much less',
                text: `not known: this test sees nothing under ${say(quantity, bound.value)}`,
              }
            : { label: 'How much more', text: 'not known: dilute the sample and test again' },
        ];
  if (what.kind === 'leaving')
    figures.push({ label: `Outside within ${what.days} days`, text: `${percent(what.chance)} likely` });
  const hours = runsTo(seen, what);
  if (hours !== null)
    figures.push({ label: 'At the speed of the last two tests', text: acuteWords(seen, what, hours) });
  if (what.kind === 'outside' && what.z < 1)
    figures.push({ label: 'How sure', text: 'within the tests’ uncertainty of the edge' });
  if (bySalt !== null)
    figures.push({
      label: `At the usual salinity it would be${bySalt.waits ? ', if the last test of salinity holds' : ''}`,
      text: say(quantity, bySalt.usual),
    });
  const test = track.tests.at(-1)?.sd ?? level.sd;
  if (bound === null)
    figures.push({ label: 'Uncertainty of one test', text: sayDifference(quantity, test, level.value) });
  return figures;
}

function acuteWords({ facts, code }: JudgedQuantity, { side }: What, hours: number): string {
  const edge = bearableLevels(code)[side === 'below' ? 'low' : 'high'];
  const when = hours < 1.5 ? 'within the hour or two' : `in about ${Math.round(hours)} hours`;
  return `at ${say(quantityNamed(facts, code), edge)}, where stock is in danger, ${when}`;
}

function bandAdvice(seen: JudgedQuantity, what: What) {
  const { value, from } = seen.level;
  const runs = runsTo(seen, what) !== null;
  // Two tests running beyond one edge bear each other out as a repeat does: a third is not asked for.
  const agree = from !== 'unconfirmed' && beyondByTests(seen.readings, seen.edges, seen.track.shift) !== null;
  const confirmed = from === 'confirmed' || agree;
  const state = {
    value,
    runs,
    confirmed,
    dosed: isDosed(seen),
    unsaid: unsaidOf(seen.facts, seen.code, dayOf(seen.now), dosedDays),
    band: chosenBand(seen.facts, seen.code),
  };
  const { why, steps } = adviceOn(seen.code, what.side, state);
  const finer = boundOf(seen)?.above === true ? [measure(dilute)] : [];
  return { why, ...advised(...finer, ...steps) };
}

/** Days of the log that say whether a quantity is dosed here; own choice. */
const dosedDays = 30;

/** Whether it is dosed here as far as anybody wrote down: by a dose of it or by a routine. */
function isDosed({ facts, code, now }: JudgedQuantity): boolean {
  const doses = facts.doses.filter(({ day }) => day > dayOf(now) - dosedDays);
  return (
    doses.some(({ quantityCode }) => quantityCode === code) ||
    facts.routines.some(({ work, quantityCode }) => work === 'dose' && quantityCode === code)
  );
}

function bySaltAdvice({ facts, code }: JudgedQuantity, { salinity, waits }: SalinityShare) {
  const salt = say(quantityNamed(facts, 'salinity'), salinity);
  if (waits)
    return {
      why: `The last test of salinity reads ${salt} and was not repeated yet. If it is right, this is low or high with the salt, and a dose would take it too far once the salt is back.`,
      ...advised(
        measure(
          'Test the salinity again now, with a second instrument. Dose nothing for this level until it is known.',
          hold('level', code),
        ),
      ),
    };
  return {
    why: `The salinity is ${salt}, and what is dissolved rises and falls with it: at the usual salinity this would be inside its band.`,
    ...advised(
      measure(
        'Set the salinity right first, slowly; then test this again before dosing anything.',
        hold('level', code),
      ),
    ),
  };
}

/** Hours until it is acute at the speed of the last tests; null where it does not run there, or is there. */
const runsTo = (seen: JudgedQuantity, what: What): number | null => {
  if (what.kind === 'running') return what.hours;
  const { kind, side } = what;
  return kind === 'leaving' || isBeyondBearing(seen) ? null : hoursToAcute(seen.code, side, seen.readings);
};

/** How far it lies beyond the edge; of a bound as far as it is known to. */
function distanceOf(seen: JudgedQuantity, side: Side): number {
  const { edges, level } = seen;
  const value = boundOf(seen)?.value ?? level.value;
  return side === 'below' ? edges.low - value : value - edges.high;
}

/** The last test, where it saw nothing or more than its scale: the level is then said as that bound; else null. */
function boundOf({ readings }: JudgedQuantity): ReadingFact | null {
  const last = readings.at(-1);
  return last !== undefined && (last.below || last.above === true) ? last : null;
}

const dilute = 'Dilute the sample and test again: nobody knows how much there is.';

function levelAmount(seen: JudgedQuantity): Amount {
  const { facts, code, level } = seen;
  const quantity = quantityNamed(facts, code);
  const bound = boundOf(seen);
  if (bound === null)
    return amount(
      quantity,
      level.from === 'all tests' ? 'Level, from all tests' : 'Middle of the last readings',
      level.value,
    );
  const { text, ...rest } = amount(
    quantity,
    bound.below ? 'At most, as the test says' : 'At least, beyond the scale',
    bound.value,
  );
  return { ...rest, text: `${boundMark(bound)}${text}` };
}

function farOf({ facts, code }: JudgedQuantity, { side, edge }: What): number {
  const { limitHigh = null, bandHigh = null } = facts.kept.get(code) ?? {};
  const own = side === 'above' && limitHigh !== null && bandHigh !== null ? limitHigh - bandHigh : 0;
  return own > 0 ? own : bandFigures(code, edge).far;
}

function severityOf(seen: JudgedQuantity, what: What): Severity {
  if (what.kind === 'leaving') return 'watch';
  const { outside, grave } = bandFigures(seen.code, what.edge);
  if (isBeyondBearing(seen) || runsTo(seen, what) !== null) return 'now';
  if (!isOwn(seen, what.side)) return 'today';
  const isFar = distanceOf(seen, what.side) >= farOf(seen, what);
  const strained = nearestEdge(seen.level.value, safeLevels(seen.code)).distance > 0;
  // What nobody has chosen asks for a look, and far off it for today; what stock does not bear was said above.
  if (isStarting(seen, what.side)) return isFar || strained || hasJumped(seen, what) ? 'today' : 'watch';
  if (isFar) return grave;
  return strained ? 'today' : outside;
}

/** Tests within so many days are a test and its repeats, not the level's past; own choice. */
const repeatDays = 0.5;

/**
 * Whether the last test lies off the one before by as much as is grave: against its own past, whatever the band. A repeat
 * that says the same takes nothing from the jump.
 */
function hasJumped({ code, readings }: JudgedQuantity, { edge }: What): boolean {
  const last = readings.at(-1);
  const before = readings.findLast(({ day }) => last !== undefined && last.day - day >= repeatDays);
  if (before === undefined || last === undefined) return false;
  return Math.abs(last.value - before.value) >= bandFigures(code, edge).far;
}

/** Outside: 1 at the edge, 2 where it is grave. A drift is milder than any of it. */
function scoreOf(seen: JudgedQuantity, what: What): number {
  if (what.kind === 'leaving') return 0.75;
  if (what.kind === 'running') return 1 + 1 / (1 + what.hours);
  return 1 + Math.max(0, distanceOf(seen, what.side)) / farOf(seen, what);
}

function causesOf({ facts, code }: JudgedQuantity, side: Side, { bySalt }: How): FindingKey[] {
  const system = (rule: string, facet = ''): FindingKey => ({
    rule,
    subject: { type: 'system', id: facts.systemId },
    facet,
  });
  const causes: FindingKey[] = [];
  if (bySalt !== null) causes.push(system('out-of-band', 'salinity'));
  if (code === 'alkalinity' && side === 'below') causes.push(system('alkalinity-falling'));
  if (code === 'temperature' && side === 'above') causes.push(system('heat-stress'));
  if ((code === 'ph' || code === 'oxygen') && side === 'below') causes.push(system('sinking-fast'));
  if (code === 'ph' && side === 'below') causes.push(system('moving-together', code));
  if (code === 'phosphate' && side === 'below') causes.push(system('nitrate-level', 'no phosphorus'));
  if (code === 'ammonia' && side === 'above') causes.push(system('ammonia'));
  return causes;
}
