import type { SavedEntry } from './saved-entries.ts';

/** How far one rack is on a round. `begun`: some of its lots have an entry, the others were not looked at yet. */
export interface RackState {
  state: 'open' | 'begun' | 'looked' | 'left_out';
  at: Date | null;
  who: string | null;
  /** Lots of which something was noted. */
  noted: number;
  /** Lots that the pass said to be no worse. */
  noWorse: number;
  /** The entry that says so, to be taken back; null where none does alone. */
  entryId: string | null;
  /** Why it was left out. */
  why: string;
}

const untouched: RackState = {
  state: 'open',
  at: null,
  who: null,
  noted: 0,
  noWorse: 0,
  entryId: null,
  why: '',
};

/** The state of each rack that has an entry. `notes` are in order of time. */
export function rackStates(notes: readonly SavedEntry[]): Map<string, RackState> {
  const byRack = Map.groupBy(
    notes.filter((note) => note.rackId !== null && note.kind !== 'refused'),
    (note) => note.rackId as string,
  );
  return new Map([...byRack].map(([rackId, list]) => [rackId, stateOfRack(list)]));
}

function stateOfRack(list: readonly SavedEntry[]): RackState {
  const noted = new Set(list.filter((note) => note.lotId !== null).map((note) => note.lotId)).size;
  const looked = list.findLast((note) => note.kind === 'rack_well');
  const skipped = list.findLast((note) => note.kind === 'skipped');
  if (looked !== undefined) {
    const noWorse = looked.detail.asBefore?.length ?? 0;
    return { state: 'looked', at: looked.at, who: looked.who, noted, noWorse, entryId: looked.id, why: '' };
  }
  if (skipped !== undefined && noted === 0) {
    const { at, who, id: entryId, detail } = skipped;
    return { state: 'left_out', at, who, noted, noWorse: 0, entryId, why: detail.note ?? '' };
  }
  const last = list.at(-1);
  return last === undefined || noted === 0
    ? untouched
    : { ...untouched, state: 'begun', at: last.at, who: last.who, noted };
}

export const rackStateOf = (all: ReadonlyMap<string, RackState>, rackId: string) =>
  all.get(rackId) ?? untouched;

/** The racks before and after one, and the next that still wants looking at (from there on, then from the start). */
export function navigationFrom(
  rackIds: readonly string[],
  here: string | null,
  all: ReadonlyMap<string, RackState>,
): { before: string | null; after: string | null; next: string | null } {
  const at = here === null ? -1 : rackIds.indexOf(here);
  const ahead = [...rackIds.slice(at + 1), ...rackIds.slice(0, Math.max(at, 0))];
  const wants = (id: string) => ['open', 'begun'].includes(rackStateOf(all, id).state);
  return {
    before: rackIds[at - 1] ?? null,
    after: rackIds[at + 1] ?? null,
    next: ahead.find(wants) ?? null,
  };
}

/** How many racks were looked at, of how many. */
export function progressOf(rackIds: readonly string[], all: ReadonlyMap<string, RackState>) {
  const looked = rackIds.filter((id) => rackStateOf(all, id).state === 'looked').length;
  return { looked, total: rackIds.length };
}

/** What one person did on a round. */
export interface PersonWork {
  who: string;
  racks: number;
  noted: number;
  fed: number;
  /** Readings entered. */
  tested: number;
  /** Pieces of due work, steps and chores ticked off. */
  tasks: number;
}

/** Who did what, whoever did most first. */
export function workByPerson(notes: readonly SavedEntry[]): PersonWork[] {
  const byPerson = Map.groupBy(
    notes.filter((note) => note.kind !== 'refused' && note.kind !== 'finished'),
    (note) => note.who ?? 'somebody',
  );
  const ofKind = (list: readonly SavedEntry[], ...kinds: string[]) =>
    list.filter((note) => kinds.includes(note.kind));
  return [...byPerson]
    .map(([who, list]) => ({
      who,
      racks: new Set(ofKind(list, 'rack_well').map((note) => note.rackId)).size,
      noted: ofKind(list, 'condition', 'count').length,
      fed: ofKind(list, 'feeding').length,
      tested: ofKind(list, 'reading').length,
      tasks: ofKind(list, 'task', 'chore').length,
    }))
    .sort((a, b) => b.racks - a.racks || b.noted - a.noted);
}

/** How long one rack took one person. */
export interface RackTime {
  rackId: string;
  who: string | null;
  from: Date;
  to: Date;
}

/** Kinds of entries that finish a rack. */
const ends: ReadonlySet<string> = new Set(['rack_well', 'skipped']);
/** Kinds of entries made away from a rack: the time for the next rack starts after them. */
const away: ReadonlySet<string> = new Set(['feeding', 'pumps_on', 'reading', 'task', 'chore', 'response']);

/**
 * How long each rack took: from what its person did before (or the start of the round) until it was looked at. Racks
 * looked at again count once, the first time.
 */
export function rackTimes(notes: readonly SavedEntry[], startedAt: Date): RackTime[] {
  const since = new Map<string | null, Date>();
  const seen = new Set<string>();
  const times: RackTime[] = [];
  for (const { kind, rackId, who, at } of notes) {
    if (kind === 'rack_well' && rackId !== null && !seen.has(rackId)) {
      seen.add(rackId);
      times.push({ rackId, who, from: since.get(who) ?? startedAt, to: at });
    }
    if (ends.has(kind) || away.has(kind)) since.set(who, at);
  }
  return times;
}
