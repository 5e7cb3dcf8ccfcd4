import { uuidv7 } from 'uuidv7';
import { placeOf } from '../../farm/switched-off/lists.ts';
import { things } from '../../farm/switched-off/things.rules.ts';
import { plural } from '../../platform/words/numbers.ts';
import { timeWords } from '../../platform/words/times.ts';
import { pestOf } from '../../stock/pests/pests.rules.ts';
import { stateWords } from '../round/lot-rows.rules.ts';
import { rackStateOf, rackTimes, workByPerson } from '../round/progress.rules.ts';
import { leftOutEntries, refusedEntries } from '../round/refused-entries.rules.ts';
import type { RoundSheet } from '../round/round-sheet.ts';
import type { SavedEntry } from '../round/saved-entries.ts';
import { feedingState, type StepState, testingState } from '../round/steps-done.rules.ts';
import { countPath } from './count-rows.ts';
import { durationWords, headOf, lotPath, rackPath, roundPath, type Screen, systemPath } from './screens.ts';

/** Where a note that was not taken can be entered again, if it says of what it was. */
function mendPath(roundId: string, id: string, sent: Record<string, unknown>): string | null {
  const [rack, lot, system] = [sent.rackId, sent.lotId, sent.systemId].map((value) =>
    typeof value === 'string' && value !== '' ? value : null,
  );
  if (rack && sent.kind === 'shelf_count') return `${countPath(roundId, rack)}?mends=${id}`;
  if (rack && lot) return `${lotPath(roundId, rack, lot)}?mends=${id}`;
  if (rack) return rackPath(roundId, rack);
  return system ? systemPath(roundId, system) : null;
}

/** What was done on a round and what was not, before and after it is ended. */
export function endScreen(sheet: RoundSheet): Screen {
  const { round, racks, notes, now } = sheet;
  const looks = round.plan.steps.includes('look');
  const stateOf = (id: string) => rackStateOf(sheet.rackStates, id);
  const undone = racks
    .filter((rack) => looks && ['open', 'begun'].includes(stateOf(rack.id).state))
    .map((rack) => ({
      id: rack.id,
      key: uuidv7(),
      name: rack.name,
      tank: rack.tank,
      begun: stateOf(rack.id).state === 'begun',
      href: rackPath(round.id, rack.id),
    }));
  const racksLeftOut = racks
    .filter((rack) => stateOf(rack.id).state === 'left_out')
    .map((rack) => ({ name: rack.name, why: stateOf(rack.id).why }));
  const data = {
    ...headOf(sheet),
    day: round.day,
    startedAt: round.startedAt,
    finishedAt: round.finishedAt,
    took: durationWords(round.startedAt, round.finishedAt ?? now),
    looks,
    undone,
    leftOut: racksLeftOut,
    notesLeftOut: leftOutEntries(notes),
    notDone: notDoneOf(sheet),
    stillOff: sheet.off.map((one) => ({
      ...{ id: one.id, what: one.what, place: placeOf(one), dueAt: one.dueAt, keeper: one.keeper },
      ...{ state: things[one.thing].state, offeredTo: one.offeredTo },
    })),
    times: timesOf(sheet),
    shares: workByPerson(notes),
    exceptions: exceptionsOf(sheet),
    refused: refusedEntries(notes).map((note) => ({
      ...note,
      href: mendPath(round.id, note.id, note.sent),
      leaveOut: `${roundPath(round.id)}/refused/${note.id}`,
      really: note.asks ? `${roundPath(round.id)}/refused/${note.id}/sure` : null,
    })),
    clocks: [...new Set(notes.map((note) => note.detail.clock).filter((clock) => clock !== undefined))],
    entries: `${roundPath(round.id)}/entries`,
    end: `${roundPath(round.id)}/end`,
    finishId: uuidv7(),
  };
  return { view: 'rounds/end', title: `${round.plan.name}: what was done`, data };
}

/** What is not done, one line for the round itself and for each system; tests of due work as a number. */
function notDoneOf(sheet: RoundSheet) {
  const { round, systems } = sheet;
  const own = choresLeft(sheet, null);
  const ownRow =
    own.length === 0 ? [] : [{ name: round.plan.name, href: roundPath(round.id), what: own, held: [] }];
  const perSystem = systems.map(({ id, name }) => ({
    name,
    href: systemPath(round.id, id),
    what: [...stepsLeft(sheet, id), ...choresLeft(sheet, id)],
    held: sheet.tasks.flatMap(({ systemId, done, held }) => (systemId === id && !done && held ? [held] : [])),
  }));
  return [...ownRow, ...perSystem.filter(({ what }) => what.length > 0)];
}

/** "to tick off: cleaned, equipment checked", in a list that is empty where nothing is. */
function choresLeft({ chores }: RoundSheet, id: string | null): string[] {
  const left = chores.filter(({ systemId, done }) => systemId === id && done === null);
  return left.length === 0 ? [] : [`to tick off: ${left.map(({ title }) => title.toLowerCase()).join(', ')}`];
}

/** Tests and feedings that the plan or the day asks for, and other work that is due. */
function stepsLeft(sheet: RoundSheet, id: string): string[] {
  const { round, tasks, holds, timeZone } = sheet;
  const [test, feed] = [testingState(sheet, id), feedingState(sheet, id)];
  const isHeld = holds.some(({ systemId }) => systemId === id);
  const notFed = feed.at === null ? 'not fed' : `not fed since ${timeWords(feed.at, timeZone)}`;
  const open = tasks.filter(({ systemId, done }) => systemId === id && !done);
  const tests = open.filter(({ work }) => work === 'test').length;
  const others = open.filter(({ work }) => work !== 'test').map(({ title }) => title);
  const lacks = (step: 'test' | 'feed', state: StepState) => round.plan.steps.includes(step) && !state.done;
  return [
    ...(tests > 0 ? [plural(tests, 'test', 'tests')] : lacks('test', test) ? ['not tested'] : []),
    ...(lacks('feed', feed) && !isHeld && !open.some(({ work }) => work === 'feeding') ? [notFed] : []),
    ...others,
  ];
}

/** How long each rack took whom. */
function timesOf({ racks, notes, round }: RoundSheet) {
  const nameOf = new Map(racks.map((rack) => [rack.id, rack]));
  return rackTimes(notes, round.startedAt).flatMap(({ rackId, who, from, to }) => {
    const rack = nameOf.get(rackId);
    return rack === undefined
      ? []
      : [{ name: rack.name, tank: rack.tank, who: who ?? '', at: to, took: durationWords(from, to) }];
  });
}

/** What was noted of lots, tested, fed and done, in order of time. */
function exceptionsOf({ notes, racks }: RoundSheet) {
  const rackName = new Map(racks.map((rack) => [rack.id, rack.name]));
  return notes.filter(isListed).map((note) => ({
    at: note.at,
    who: note.who ?? '',
    href: note.detail.code === undefined ? '' : `/stock/${note.detail.code}`,
    what: noteWords(note),
    note: [rackName.get(note.rackId ?? '') ?? '', note.detail.note ?? '']
      .filter((part) => part !== '')
      .join('; '),
  }));
}

const listedKinds: ReadonlySet<string> = new Set([
  'condition',
  'count',
  'shelf_count',
  'task',
  'reading',
  'response',
  'fault',
  'switch_off',
  'seen_running',
  'event',
]);

/** A chore is told of where somebody noted something with it. */
const isListed = ({ kind, detail }: SavedEntry) =>
  listedKinds.has(kind) || (kind === 'chore' && Boolean(detail.note));

function noteWords({ kind, detail }: SavedEntry): string {
  const { what = '', trust, response = '' } = detail;
  if (kind === 'task') return `${what || 'Work'}: done`;
  if (['chore', 'fault', 'switch_off', 'seen_running', 'event'].includes(kind)) return what;
  if (kind === 'shelf_count')
    return `${detail.rack ?? 'A rack'}: ${plural(detail.counted ?? 0, 'lot', 'lots')} counted`;
  if (kind === 'reading') return trust === 'unconfirmed' ? `${what}, unconfirmed` : what;
  return kind === 'response' ? `Fed: ${response}` : lotWords(detail);
}

function lotWords({
  code = 'a lot',
  state,
  grade = null,
  compared = null,
  pieces = null,
  pest = '',
  pestCount = null,
}: SavedEntry['detail']): string {
  const counted = pieces === null ? '' : plural(pieces, 'piece', 'pieces');
  const seen = state === undefined ? '' : stateWords(state, grade, compared);
  const which = pest === '' ? '' : pestOf(pest).name;
  const pests = pestCount === null ? '' : `${pestCount} counted`;
  return `${code}: ${[seen, which, pests, counted].filter((part) => part !== '').join(', ')}`;
}
