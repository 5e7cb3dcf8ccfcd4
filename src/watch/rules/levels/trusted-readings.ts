import { type Act, type Advice, advised, down, measure } from '../../../alerts/advice.ts';
import { type Finding, rankOf, type Severity } from '../../../alerts/finding.ts';
import { andWords } from '../../../platform/words/lists.ts';
import { timeWords, whenWords } from '../../../platform/words/times.ts';
import { harmOf } from '../../../water/acute/harm.rules.ts';
import { type KitFact, momentOfDay, type ReadingFact, type SystemFacts } from '../../facts/types.ts';
import { bearableLevels, hasBearableLevels, isDangerousJump, precautionOf, safeLevels } from './danger.ts';
import type { Side } from './edges.ts';
import { differingBottles, readingsOfTheCase, withoutKitBias } from './kit-bias.ts';

/** Which reading of the case speaks where two bottles differ: the worse one, both alone together, or that by the bottle before. */
type Speaks = 'the worse' | 'both' | 'the bottle before';

/**
 * Judges a quantity's readings with the bias of suspected kits taken out, relying on confirmed and plain ones. Where two bottles
 * differ and nobody knows which is wrong both readings of the case are judged: of a level the worse one speaks; of what is only
 * coming both have to show it, since a step between bottles looks like it; a swing is judged by the bottle before. What only an
 * unconfirmed reading says asks for another test, at once where it would be dangerous; what only the readings as they came say is
 * the kit's.
 */
export function judgeReadings(
  facts: SystemFacts,
  code: string,
  now: Date,
  judge: (readings: readonly ReadingFact[]) => Finding | null,
  speaks: Speaks = 'the worse',
): Finding | null {
  const all = withoutOldDoubts(facts.readings.get(code) ?? []);
  const { readings, kits } = withoutKitBias(facts, code, all);
  const judged = (of: readonly ReadingFact[]) => relyingOnConfirmed(facts, code, of, now, judge);
  const [asRead, byBefore] = readingsOfTheCase(facts, code, readings);
  if (byBefore !== undefined) return ofTheCase(facts, code, judged(asRead), judged(byBefore), speaks);
  return judged(readings) ?? (kits.length > 0 ? explainedByKit(judged(all), kits) : null);
}

/** What is told where two bottles differ; what only one reading of the case shows where both have to is the bottles' matter. */
function ofTheCase(
  facts: SystemFacts,
  code: string,
  asRead: Finding | null,
  byBefore: Finding | null,
  speaks: Speaks,
): Finding | null {
  const kits = differingBottles(facts, code).map(({ kit }) => kit);
  if (speaks === 'the bottle before') return byBefore ?? explainedByKit(asRead, kits);
  const told = worse(asRead, byBefore);
  const both = asRead?.status === 'fires' && byBefore?.status === 'fires';
  if (speaks === 'both' && told?.status === 'fires' && !both) return explainedByKit(told, kits);
  return told === null ? null : untilStandard(told, kits);
}

const statusRank = { fires: 2, stays: 1, unknown: 0 } as const;

/** The one that people should hear. */
function worse(one: Finding | null, other: Finding | null): Finding | null {
  if (one === null || other === null) return one ?? other;
  const by =
    statusRank[other.status] - statusRank[one.status] ||
    rankOf(other.severity) - rankOf(one.severity) ||
    other.score - one.score;
  return by > 0 ? other : one;
}

/** Which of the bottles is wrong is asked before anything is put into the water. */
function untilStandard(finding: Finding, kits: readonly KitFact[]): Finding {
  const names = andWords(kits.map(({ label }) => label));
  const test = `Test a standard with ${names} before you dose: it and the bottle before differ, and one of them is wrong.`;
  return { ...finding, ...advised(measure(test), ...finding.advice) };
}

/** A reading that nobody settled within this many days no longer says anything. */
const doubtDays = 7;

function withoutOldDoubts(readings: readonly ReadingFact[]): readonly ReadingFact[] {
  const from = (readings.at(-1)?.day ?? 0) - doubtDays;
  return readings.filter(({ trust, day }) => trust !== 'unconfirmed' || day >= from);
}

/** It opens nothing, and an open alert goes to the kit's. */
export function explainedByKit(finding: Finding | null, kits: readonly KitFact[]): Finding | null {
  if (finding === null) return null;
  const causes = kits.map(({ id }) => ({
    rule: 'kit-biased',
    subject: { type: 'kit' as const, id },
    facet: '',
  }));
  return { ...finding, status: 'stays', causes };
}

/**
 * Judges twice: on readings that are relied on, and on all. What only an unconfirmed reading says keeps the urgency it
 * would have if it were true where that does harm within hours or days, since to test again costs minutes; what does
 * harm in weeks waits for the next test.
 */
export function relyingOnConfirmed(
  facts: Pick<SystemFacts, 'timeZone'>,
  code: string,
  readings: readonly ReadingFact[],
  now: Date,
  judge: (readings: readonly ReadingFact[]) => Finding | null,
): Finding | null {
  const relied = judge(readings.filter(({ trust }) => trust !== 'unconfirmed'));
  const doubted = readings.findLast(({ trust }) => trust === 'unconfirmed');
  if (doubted === undefined) return relied;
  const all = judge(readings);
  if (all?.status !== 'fires' || isAsUrgent(relied, all)) return relied;
  const before = readings.findLast(({ trust, day }) => trust !== 'unconfirmed' && day <= doubted.day);
  const severity = severityOfDoubted(code, doubted, before, all.severity);
  return {
    ...all,
    severity,
    doubted: true,
    causes: [
      { rule: 'sources-differ', subject: { type: 'system', id: all.systemId }, facet: code },
      ...all.causes,
    ],
    // What would be so is another figure than what is.
    said: all.said.map((figure) => ({ ...figure, name: `${figure.name} if the last reading holds` })),
    changes: null,
    title: `${all.title}, unconfirmed${severity === 'now' ? ': test now' : ''}`,
    ...advised(...repeatSteps(facts, code, doubted, readings, { severity, now })),
  };
}

/**
 * A single reading that nobody repeated asks to act now only where it would be dangerous if true: beyond the safe range,
 * by a step that harms wherever it ends, or, where no edge is known, by what harms within hours. Else its repeat is due before anybody leaves the room.
 */
function severityOfDoubted(
  code: string,
  { value }: ReadingFact,
  before: ReadingFact | undefined,
  severity: Severity,
): Severity {
  const harm = harmOf(code);
  if (harm === 'weeks') return 'watch';
  if (severity !== 'now') return severity;
  const { low, high } = bearableLevels(code);
  const dangerous = hasBearableLevels(code) ? value < low || value > high : harm === 'hours';
  const jumped = before !== undefined && isDangerousJump(code, before.value, value);
  return dangerous || jumped ? 'now' : 'today';
}

const isAsUrgent = (relied: Finding | null, all: Finding): boolean =>
  relied?.status === 'fires' && rankOf(relied.severity) >= rankOf(all.severity);

/** A dangerous reading is tested again within this many hours; own choice. */
const repeatWithinHours = 1;

function repeatSteps(
  facts: Pick<SystemFacts, 'timeZone'>,
  code: string,
  doubted: ReadingFact,
  readings: readonly ReadingFact[],
  { severity, now }: { severity: Severity; now: Date },
): Advice[] {
  const other = 'with another kit if there is one';
  if (severity === 'watch' && harmOf(code) === 'weeks')
    return [measure(`Test again, ${other}. Correct nothing on one unconfirmed reading.`)];
  const due = momentOfDay(doubted.day + repeatWithinHours / 24);
  const by = whenWords(due, facts.timeZone, now);
  const soon =
    now < due
      ? `Act now: test again within the hour, by ${timeWords(due, facts.timeZone)}, ${other}.`
      : `Act now: test again at once, ${other}; it was due by ${by}.`;
  const when = severity === 'now' ? soon : `Test again before you leave the room, ${other}.`;
  const side = sideOf(code, doubted, readings);
  const precaution = precautionOf(code, side);
  const meanwhile = precaution === null ? '' : ` ${precaution}`;
  const last = ' Correct the level itself only once a second test says the same.';
  return [measure(`${when}${meanwhile}${last}`, ...precautionActs(code, side))];
}

/** What a precaution turns down or off, as acts. */
const stopped: Readonly<Record<string, Act>> = {
  'temperature above': down('heating'),
  'ph above': down('dose', 'alkalinity'),
  'alkalinity above': down('dose', 'alkalinity'),
  'calcium above': down('dose', 'calcium'),
  'salinity below': down('top-up'),
  'copper above': down('top-up'),
  'oxygen below': down('food'),
  'ammonia above': down('food'),
};

const precautionActs = (code: string, side: Side): Act[] => {
  const act = stopped[`${code} ${side}`];
  return act === undefined ? [] : [act];
};

/** On which side of what was relied on before a reading lies. */
function sideOf(code: string, doubted: ReadingFact, readings: readonly ReadingFact[]): Side {
  const before = readings.findLast(({ trust, day }) => trust !== 'unconfirmed' && day <= doubted.day);
  const edges = safeLevels(code);
  if (doubted.value < edges.low) return 'below';
  if (doubted.value > edges.high) return 'above';
  return before !== undefined && doubted.value < before.value ? 'below' : 'above';
}
