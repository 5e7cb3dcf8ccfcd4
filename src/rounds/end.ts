import { uuidv7 } from 'uuidv7';
import { plural } from '../platform/words.ts';
import { lengthWords } from './lengths.ts';
import { stateWords } from './lots.rules.ts';
import type { Note } from './notes.ts';
import { rackTimes, sharesOf, standingOf } from './progress.rules.ts';
import { refusedNotes } from './refused.rules.ts';
import { headOf, lotPath, rackPath, roundPath, type Screen, systemPath } from './screens.ts';
import type { Sheet } from './sheet.ts';

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
    untested: unlessDone(sheet, 'test'),
    unfed: unlessDone(sheet, 'feed'),
    undoneTasks: undoneTasks(sheet),
    undoneChores: undoneChores(sheet),
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

/** The systems of which a step of the plan is not done. */
function unlessDone(sheet: Sheet, step: 'test' | 'feed') {
  if (!sheet.walk.plan.steps.includes(step)) return [];
  const done = new Set((step === 'test' ? sheet.tested : sheet.fed).map((one) => one.systemId));
  return sheet.systems
    .filter((system) => !done.has(system.id))
    .map((system) => ({ name: system.name, href: systemPath(sheet.walk.id, system.id) }));
}

/** Due work of the systems on the way that is not done. */
function undoneTasks({ walk, tasks }: Sheet) {
  return tasks
    .filter((task) => !task.done)
    .map(({ title, systemId, systemName, held }) => ({
      title,
      held,
      name: systemName,
      href: systemPath(walk.id, systemId),
    }));
}

/** Steps of systems and chores of the round that nobody ticked off. */
function undoneChores({ walk, systems, chores }: Sheet) {
  const nameOf = new Map(systems.map((system) => [system.id, system.name]));
  return chores
    .filter((chore) => chore.done === null)
    .map(({ title, systemId }) => ({
      title,
      name: systemId === null ? walk.plan.name : (nameOf.get(systemId) ?? ''),
      href: systemId === null ? roundPath(walk.id) : systemPath(walk.id, systemId),
    }));
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

const told: ReadonlySet<string> = new Set(['condition', 'count', 'task', 'reading', 'response']);

/** A chore is told of where somebody noted something with it. */
const isToldOf = ({ kind, detail }: Note) => told.has(kind) || (kind === 'chore' && Boolean(detail.note));

function noteWords({ kind, detail }: Note): string {
  const { what = '', trust, response = '' } = detail;
  if (kind === 'task') return `${what || 'Work'}: done`;
  if (kind === 'chore') return what;
  if (kind === 'reading') return trust === 'unconfirmed' ? `${what}, unconfirmed` : what;
  return kind === 'response' ? `Fed: ${response}` : lotWords(detail);
}

function lotWords({ code = 'a lot', state, grade = null, pieces = null }: Note['detail']): string {
  const counted = pieces === null ? '' : plural(pieces, 'piece', 'pieces');
  const seen = state === undefined ? '' : stateWords(state, grade);
  return `${code}: ${[seen, counted].filter((part) => part !== '').join(', ')}`;
}
