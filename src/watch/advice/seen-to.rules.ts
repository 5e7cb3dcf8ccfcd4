import { type Advice, type Asked, advised } from '../../alerts/advice.ts';
import type { OpenAlert } from '../../alerts/diff.rules.ts';
import { type Finding, keyText } from '../../alerts/finding.ts';
import { dateAtDay, dayOf, daysBetween } from '../../science/numeric/time.ts';
import type { Action } from '../answers/actions.ts';
import { quantityOfAlert } from '../answers/answers.rules.ts';
import type { KitFact, SystemFacts } from '../facts/types.ts';
import { agreesWithTheBottleBefore, doubtfulKit } from '../rules/levels/kit-bias.ts';
import { dateOfDay } from '../rules/shared/words.ts';
import { groundOf, kitsBehind } from './ground.ts';

/**
 * So many days nobody is sent to the same thing again, where it was in order or set right (own choice): when it was seen to
 * for this very alert, for another alert on the same quantity, and when before any of them opened. A standard holds for longer,
 * since a bottle that reads right goes on doing so, as light once measured does until a survey is old; a doser may stop on the day after somebody saw to it.
 */
const seenToFor: Readonly<Record<Asked, { since: number; sameCause: number; before: number }>> = {
  doser: { since: 14, sameCause: 7, before: 2 },
  standard: { since: 30, sameCause: 30, before: 21 },
  stock: { since: 7, sameCause: 7, before: 2 },
  test: { since: 7, sameCause: 0, before: 0 },
  salinity: { since: 4, sameCause: 4, before: 4 },
  place: { since: 7, sameCause: 0, before: 0 },
  light: { since: 180, sameCause: 0, before: 0 },
};

/** Of a doser after which the level went no further out: whatever fails there anew shows in the level. Own choice. */
const whileItStands = { since: 30, sameCause: 21, before: 2 };

/**
 * So many days it holds where the water harms the stock now: what was in order may have stopped since. Not so of a bottle that
 * reads right, and not of a doser after which the level went no further out. Own choice.
 */
const whileItHarms = 1;
const holdsWhileItHarms: readonly Asked[] = ['standard', 'light'];

/** So far back actions are asked for: a doser serviced for an alert; what was said of an alert came after it opened. */
export const seenToDays = 30;

/** A standard that reads within this part of its value is read right; own choice: more than a bottle differs from the next. */
const readsRight = 0.05;
const fewestChecks = 2;

const words: Readonly<Record<Asked, string>> = {
  doser: 'the doser',
  standard: 'a standard, read right',
  stock: 'all stock',
  test: 'a test',
  salinity: 'salinity, within its band',
  place: 'its place',
  light: 'a light survey',
};

interface Known {
  open: readonly OpenAlert[];
  facts: SystemFacts;
  actions: readonly Action[];
  now: Date;
}

/**
 * Findings whose advice asks for no look that the log already holds: a doser serviced lately, a standard that the kit in use
 * read right. The alert says what was seen to and when. Where nothing else is asked for, the advice stays as it is.
 */
export function withoutSeenTo(findings: readonly Finding[], known: Known): Finding[] {
  return findings.map((finding) => {
    const asked = [...new Set(finding.advice.flatMap(({ asks }) => asks ?? []))];
    const since = openedFor(finding, known);
    const seen = new Map(
      asked.flatMap((asks) => {
        const at = seenAt(asks, finding, known);
        return at !== null && isLate({ asks, at, since, finding }, known) ? [[asks, at] as const] : [];
      }),
    );
    const left = finding.advice.filter(({ asks }: Advice) => asks === undefined || !seen.has(asks));
    if (seen.size === 0 || left.length === 0) return finding;
    const said = [...seen].map(
      ([asks, at]) => `${wordsOf(asks, finding, known)} on ${dateOfDay(dayOf(at), known.facts)}`,
    );
    return {
      ...finding,
      ...advised(...left),
      figures: [...finding.figures, { label: 'Seen to', text: said.join('; ') }],
    };
  });
}

/** Since when an alert tells of it, and since when the first of those that stand open on its quantity. */
interface Since {
  own: OpenAlert | null;
  cause: Date | null;
}

function openedFor(finding: Finding, { open, facts }: Known): Since {
  const key = keyText(finding);
  const code = quantityOfAlert(finding, facts);
  const alike = code === null ? [] : open.filter((alert) => quantityOfAlert(alert, facts) === code);
  const first = Math.min(...alike.map(({ openedAt }) => openedAt.getTime()));
  return {
    own: open.find((alert) => keyText(alert) === key) ?? null,
    cause: Number.isFinite(first) ? new Date(first) : null,
  };
}

/** Whether it was seen to so lately that it is not asked for again. */
function isLate(
  { asks, at, since, finding }: { asks: Asked; at: Date; since: Since; finding: Finding },
  { facts, now }: Known,
): boolean {
  const stands = asks === 'doser' && !wentFurtherOut(finding, facts, at);
  const { since: own, sameCause, before } = stands ? whileItStands : seenToFor[asks];
  const days =
    since.own !== null && at >= since.own.openedAt
      ? own
      : since.cause !== null && at >= since.cause
        ? Math.max(before, sameCause)
        : before;
  const harms = finding.severity === 'now' && !holdsWhileItHarms.includes(asks);
  return daysBetween(at, now) <= (!harms || stands ? days : Math.min(days, whileItHarms));
}

/** So many standard uncertainties of one test: two tests of the same water differ by more 1 time in 13. */
const furtherOut = 2;

/** Whether the level went further from the middle of its band since, beyond what a test errs by; true where that is not known. */
function wentFurtherOut(finding: Finding, facts: SystemFacts, at: Date): boolean {
  const code = quantityOfAlert(finding, facts) ?? '';
  const { bandLow = null, bandHigh = null } = facts.kept.get(code) ?? {};
  const readings = (facts.readings.get(code) ?? []).filter(({ trust }) => trust !== 'unconfirmed');
  const before = readings.findLast(({ day }) => day <= dayOf(at));
  const last = readings.at(-1);
  if (bandLow === null || bandHigh === null || before === undefined || last === undefined) return true;
  if (last.day <= before.day) return true;
  const off = ({ value }: { value: number }) => Math.abs(value - (bandLow + bandHigh) / 2);
  return off(last) > off(before) + furtherOut * last.u;
}

/** When it was last seen to and in order; null where the log does not say. */
function seenAt(asks: Asked, finding: Finding, known: Known): Date | null {
  switch (asks) {
    case 'doser':
      return doserServicedAt(finding, known);
    case 'stock':
      return allSeenAt(known.facts);
    case 'test': {
      const tests = finding.evidence.flatMap(({ kind, at }) => (kind === 'reading' ? Date.parse(at) : []));
      return tests.length === 0 ? null : new Date(Math.max(...tests));
    }
    case 'standard':
      return standardReadAt(finding, known) ?? readsAlikeSince(finding, known);
    case 'salinity':
      return salinityReadAt(known.facts);
    case 'place':
      return placeSeenAt(finding, known);
    case 'light':
      return surveyedAt(finding, known);
  }
}

/** When a doser of what the finding tells of was serviced, or found in order or put right. One of something else, or of nobody knows what, is not it. */
function doserServicedAt(finding: Finding, { facts, actions }: Known): Date | null {
  const code = quantityOfAlert(finding, facts);
  const isServiced = ({ kind, quantityCode, contents }: Action) =>
    kind === 'serviced' &&
    quantityCode === 'doser' &&
    contents !== null &&
    (Object.keys(contents).length === 0 || (code !== null && Object.hasOwn(contents, code)));
  const isSeen = ({ kind, quantityCode }: Action) =>
    (kind === 'doser well' || kind === 'doser righted') && code !== null && quantityCode === code;
  return actions.findLast((action) => isServiced(action) || isSeen(action))?.at ?? null;
}

/** Since when every lot was looked at; null where one never was, or nothing stands there. */
function allSeenAt({ lots }: SystemFacts): Date | null {
  const last = lots.map(({ conditions: [latest] }) => latest?.day ?? null);
  return last.length === 0 || last.includes(null) ? null : dateAtDay(Math.min(...last.map(Number)));
}

/** When salinity was last read within its band, by a test that nobody doubts. */
function salinityReadAt({ readings, kept }: SystemFacts): Date | null {
  const last = readings.get('salinity')?.at(-1);
  const { bandLow = null, bandHigh = null } = kept.get('salinity') ?? {};
  if (last === undefined || bandLow === null || bandHigh === null || last.trust === 'unconfirmed')
    return null;
  return last.value < bandLow || last.value > bandHigh ? null : dateAtDay(last.day);
}

/** When somebody said that he did the steps of this alert on a lot, unless something was set beside it since, or it was moved. */
function placeSeenAt(finding: Finding, { open, facts, actions }: Known): Date | null {
  const alert = open.find((one) => keyText(one) === keyText(finding));
  const said = actions.findLast(({ kind, subjectId }) => kind === 'said' && subjectId === alert?.id);
  const lot = facts.lots.find(({ id }) => id === finding.subject.id);
  if (said === undefined || lot === undefined) return null;
  const changed = facts.lots.some(
    ({ rackId, placedDay }) => rackId === lot.rackId && placedDay > dayOf(said.at),
  );
  return changed ? null : said.at;
}

/** When the light of a rack that it is about was measured since it opened. */
function surveyedAt(finding: Finding, { open, facts }: Known): Date | null {
  const alert = open.find((one) => keyText(one) === keyText(finding));
  const days = facts.racks
    .filter(({ id, lampId }) => id === finding.subject.id || lampId === finding.subject.id)
    .flatMap(({ surveys }) => surveys.at(-1)?.day ?? []);
  const last = Math.max(...days);
  return alert === undefined || !(last > dayOf(alert.openedAt)) ? null : dateAtDay(last);
}

/** The kit that measured what a finding says; undefined where that kit may read wrong. */
function reliedKit(finding: Finding, { facts, now }: Known): KitFact | undefined {
  const [kitId] = kitsBehind(finding, groundOf(facts));
  if (kitId === undefined || doubtfulKit(facts, kitId, now) !== null) return undefined;
  return [...facts.kits, ...facts.visitingKits].find(({ id }) => id === kitId);
}

/** When the kit in use read a standard right, in duplicate at least. */
function standardReadAt(finding: Finding, known: Known): Date | null {
  const last = (reliedKit(finding, known)?.checks ?? []).slice(-fewestChecks);
  const off = last.reduce((sum, { value, standard }) => sum + value / standard - 1, 0) / fewestChecks;
  const newest = last.at(-1);
  return last.length < fewestChecks || newest === undefined || Math.abs(off) > readsRight
    ? null
    : dateAtDay(newest.day);
}

/**
 * When the kit in use was opened, where it reads as the bottle before did. One that was opened untold since is not seen by that, so the
 * days of a standard count from its opening on.
 */
function readsAlikeSince(finding: Finding, known: Known): Date | null {
  const kit = reliedKit(finding, known);
  return kit !== undefined && agreesWithTheBottleBefore(kit) ? dateAtDay(kit.openedDay) : null;
}

/** What was seen to, in words that a date goes on from. */
const wordsOf = (asks: Asked, finding: Finding, known: Known): string =>
  asks === 'standard' && standardReadAt(finding, known) === null
    ? 'a bottle that reads as the one before, opened'
    : words[asks];
