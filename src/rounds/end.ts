import { uuidv7 } from 'uuidv7';
import { plural } from '../platform/words.ts';
import { lengthWords } from './lengths.ts';
import { stateWords } from './lots.rules.ts';
import type { Note } from './notes.ts';
import { sharesOf, standingOf } from './progress.rules.ts';
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
    shares: sharesOf(notes),
    exceptions: exceptionsOf(sheet),
    refused: refusedNotes(notes).map((note) => ({
      ...note,
      href: mendPath(walk.id, note.id, note.sent),
      leaveOut: `${roundPath(walk.id)}/refused/${note.id}`,
    })),
    clocks: [...new Set(notes.map((note) => note.detail.clock).filter((clock) => clock !== undefined))],
    entries: `${roundPath(walk.id)}/entries`,
    end: `${roundPath(walk.id)}/end`,
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

/** What was noted of lots and done of what was due, in order of time. */
function exceptionsOf({ notes, racks }: Sheet) {
  const rackName = new Map(racks.map((rack) => [rack.id, rack.name]));
  return notes
    .filter((note) => ['condition', 'count', 'task'].includes(note.kind))
    .map((note) => ({
      at: note.at,
      who: note.who ?? '',
      href: note.detail.code === undefined ? '' : `/stock/${note.detail.code}`,
      what: note.kind === 'task' ? `${note.detail.what ?? 'Work'}: done` : noteWords(note),
      note: [rackName.get(note.rackId ?? '') ?? '', note.detail.note ?? '']
        .filter((part) => part !== '')
        .join('; '),
    }));
}

function noteWords({ detail }: Note): string {
  const { code = 'a lot', state, grade = null, pieces = null } = detail;
  const counted = pieces === null ? '' : plural(pieces, 'piece', 'pieces');
  const seen = state === undefined ? '' : stateWords(state, grade);
  return `${code}: ${[seen, counted].filter((part) => part !== '').join(', ')}`;
}
