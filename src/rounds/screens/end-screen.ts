import { uuidv7 } from 'uuidv7';
import { plural } from '../../platform/words/numbers.ts';
import { stateWords } from '../round/lot-rows.rules.ts';
import type { Note } from '../round/notes.ts';
import { rackTimes, sharesOf, standingOf } from '../round/progress.rules.ts';
import { refusedNotes } from '../round/refused-notes.rules.ts';
import type { Sheet } from '../round/sheet.ts';
import { lengthWords } from './durations.ts';
import { headOf, lotPath, rackPath, roundPath, type Screen, systemPath } from './screens.ts';

/** Where a note that was not taken can be entered again, if it says of what it was. */
function mendPath(roundId: string, id: string, sent: Record<string, unknown>): string | null {
  const [rack, lot, system] = [sent.rackId, sent.lotId, sent.systemId].map((value) =>
    typeof value === 'string' && value !== '' ? value : null,
  );
  if (rack && lot) return `${lotPath(roundId, rack, lot)}?mends=${id}`;
  if (rack) return rackPath(roundId, rack);
  return system ? systemPath(roundId, system) : null;
}

/** What was done on a round and what was not, before and after it is ended. */
export function endScreen(sheet: Sheet): Screen {
  const { walk, racks, notes, now } = sheet;
  const looks = walk.plan.steps.includes('look');
  const standing = (id: string) => standingOf(sheet.standings, id);
  const undone = racks
    .filter((rack) => looks && ['open', 'begun'].includes(standing(rack.id).state))
    .map((rack) => ({
      id: rack.id,
      key: uuidv7(),
      name: rack.name,
      tank: rack.tank,
      begun: standing(rack.id).state === 'begun',
      href: rackPath(walk.id, rack.id),
    }));
  const leftOut = racks
    .filter((rack) => standing(rack.id).state === 'left_out')
    .map((rack) => ({ name: rack.name, why: standing(rack.id).why }));
  const data = {
    ...headOf(sheet),
    day: walk.day,
    startedAt: walk.startedAt,
    finishedAt: walk.finishedAt,
    took: lengthWords(walk.startedAt, walk.finishedAt ?? now),
    looks,
    undone,
    leftOut,
    notDone: notDoneOf(sheet),
    times: timesOf(sheet),
    shares: sharesOf(notes),
    exceptions: exceptionsOf(sheet),
    refused: refusedNotes(notes).map((note) => ({
      ...note,
      href: mendPath(walk.id, note.id, note.sent),
      leaveOut: `${roundPath(walk.id)}/refused/${note.id}`,
      really: note.asks ? `${roundPath(walk.id)}/refused/${note.id}/sure` : null,
    })),
    clocks: [...new Set(notes.map((note) => note.detail.clock).filter((clock) => clock !== undefined))],
    entries: `${roundPath(walk.id)}/entries`,
    end: `${roundPath(walk.id)}/end`,
    finishId: uuidv7(),
  };
  return { view: 'rounds/end', title: `${walk.plan.name}: what was done`, data };
}

/** What is not done, one line for the round itself and for each system; tests of due work as a number. */
function notDoneOf(sheet: Sheet) {
  const { walk, systems } = sheet;
  const own = choresLeft(sheet, null);
  const round =
    own.length === 0 ? [] : [{ name: walk.plan.name, href: roundPath(walk.id), what: own, held: [] }];
  const perSystem = systems.map(({ id, name }) => ({
    name,
    href: systemPath(walk.id, id),
    what: [...stepsLeft(sheet, id), ...choresLeft(sheet, id)],
    held: sheet.tasks.flatMap(({ systemId, done, held }) => (systemId === id && !done && held ? [held] : [])),
  }));
  return [...round, ...perSystem.filter(({ what }) => what.length > 0)];
}

/** "to tick off: cleaned, equipment checked", in a list that is empty where nothing is. */
function choresLeft({ chores }: Sheet, id: string | null): string[] {
  const left = chores.filter(({ systemId, done }) => systemId === id && done === null);
  return left.length === 0 ? [] : [`to tick off: ${left.map(({ title }) => title.toLowerCase()).join(', ')}`];
}

/** Tests and feedings that the plan or the day asks for, and other work that is due. */
function stepsLeft({ walk, tested, fed, tasks }: Sheet, id: string): string[] {
  const open = tasks.filter(({ systemId, done }) => systemId === id && !done);
  const tests = open.filter(({ work }) => work === 'test').length;
  const others = open.filter(({ work }) => work !== 'test').map(({ title }) => title);
  const lacks = (step: 'test' | 'feed', done: readonly { systemId: string }[]) =>
    walk.plan.steps.includes(step) && !done.some(({ systemId }) => systemId === id);
  return [
    ...(tests > 0 ? [plural(tests, 'test', 'tests')] : lacks('test', tested) ? ['not tested'] : []),
    ...(lacks('feed', fed) && !open.some(({ work }) => work === 'feeding') ? ['not fed'] : []),
    ...others,
  ];
}

/** How long each rack took whom. */
function timesOf({ racks, notes, walk }: Sheet) {
  const nameOf = new Map(racks.map((rack) => [rack.id, rack]));
  return rackTimes(notes, walk.startedAt).flatMap(({ rackId, who, from, to }) => {
    const rack = nameOf.get(rackId);
    return rack === undefined
      ? []
      : [{ name: rack.name, tank: rack.tank, who: who ?? '', at: to, took: lengthWords(from, to) }];
  });
}

/** What was noted of lots, tested, fed and done, in order of time. */
function exceptionsOf({ notes, racks }: Sheet) {
  const rackName = new Map(racks.map((rack) => [rack.id, rack.name]));
  return notes.filter(isToldOf).map((note) => ({
    at: note.at,
    who: note.who ?? '',
    href: note.detail.code === undefined ? '' : `/stock/${note.detail.code}`,
    what: noteWords(note),
    note: [rackName.get(note.rackId ?? '') ?? '', note.detail.note ?? '']
      .filter((part) => part !== '')
      .join('; '),
  }));
}

const told: ReadonlySet<string> = new Set([
  'condition',
  'count',
  'task',
  'reading',
  'response',
  'fault',
  'switch_off',
  'seen_running',
]);

/** A chore is told of where somebody noted something with it. */
const isToldOf = ({ kind, detail }: Note) => told.has(kind) || (kind === 'chore' && Boolean(detail.note));

function noteWords({ kind, detail }: Note): string {
  const { what = '', trust, response = '' } = detail;
  if (kind === 'task') return `${what || 'Work'}: done`;
  if (['chore', 'fault', 'switch_off', 'seen_running'].includes(kind)) return what;
  if (kind === 'reading') return trust === 'unconfirmed' ? `${what}, unconfirmed` : what;
  return kind === 'response' ? `Fed: ${response}` : lotWords(detail);
}

function lotWords({ code = 'a lot', state, grade = null, pieces = null }: Note['detail']): string {
  const counted = pieces === null ? '' : plural(pieces, 'piece', 'pieces');
  const seen = state === undefined ? '' : stateWords(state, grade);
  return `${code}: ${[seen, counted].filter((part) => part !== '').join(', ')}`;
}
