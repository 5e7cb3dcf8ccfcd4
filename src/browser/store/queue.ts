import { queued, type Store } from './store.ts';
import type { QueuedEntry, TabletEntry, TabletRound } from './types.ts';

/**
 * Lets go of what a round fetched anew shows as settled: what was taken is drawn in it; what was refused and put right
 * since is no longer named in it. What the service holds nothing of stays until a person settles it here.
 * @param settled taken or refused before the round was asked for: it knows nothing of others
 */
export function letGoOfSettled(
  store: Store,
  round: Pick<TabletRound, 'id' | 'refused'>,
  settled: ReadonlySet<string>,
): Promise<void> {
  return store.remove(({ roundId, standing, id, onlyHere = false }) => {
    if (!settled.has(id)) return false;
    if (standing === 'taken') return true;
    if (standing !== 'refused' || onlyHere) return false;
    // Those of another round stand on that round's own page.
    return roundId !== round.id || !round.refused.includes(id);
  });
}

/** Ends what is being noted: from now on it is sent. @returns false where the tablet has no room even for that */
export function closeOpen(store: Store): Promise<boolean> {
  return store
    .mark((kept) => kept.standing === 'open', { standing: 'waiting' })
    .then(() => true)
    .catch(() => false);
}

/** How long until it is tried again, ms (own choice). */
export const closeAgainAfter = 20_000;

/** Entries that were refused and that nobody but this tablet holds. */
export const heldHere = (all: readonly QueuedEntry[]): QueuedEntry[] =>
  all.filter(({ standing, onlyHere = false }) => standing === 'refused' && onlyHere);

/** Has an entry that was set aside sent again as it stands, under its own key, so that it counts once. */
export async function sendAgain(store: Store, id: string): Promise<void> {
  await store.mark((kept) => kept.id === id, { standing: 'waiting', why: '', failures: 0, onlyHere: false });
}

/** Puts another entry in the place of one that was set aside, at once: both would be sent if the page went in between. */
export async function replace(store: Store, id: string, roundId: string, by: TabletEntry): Promise<void> {
  const fresh = { ...queued(roundId, by, 'waiting'), failures: 0, onlyHere: false };
  await store.mark((kept) => kept.id === id, fresh);
}

/**
 * Takes an entry back. The service is always told, and undoes it whether it has it already or gets it later: a tablet
 * without room may have sent what it could not mark as sent. What was surely not sent goes at once.
 * @throws where there is no room to write it down; then nothing is taken back
 */
export async function takeBack(
  store: Store,
  entryId: string,
  roundId: string,
  told: TabletEntry,
): Promise<void> {
  await store.add(roundId, told, 'waiting');
  let isGone = false;
  await store.remove(({ id, tried, standing }) => {
    if (id !== entryId) return false;
    isGone = !tried || standing === 'refused';
    return isGone;
  });
  if (!isGone) return;
  // Its photos show the lot all the same.
  for (const photo of await store.photos())
    if (photo.entryId === entryId) await store.markPhoto(photo.id, { entryId: null });
}

/** Leaves an entry out by a person's word, of which the service is told. Where it takes not even that, the word is enough. */
export function leaveOut(
  store: Store,
  { id, entry }: QueuedEntry,
  roundId: string,
  told: TabletEntry,
): Promise<void> {
  return entry.kind === told.kind
    ? store.remove((kept) => kept.id === id)
    : replace(store, id, roundId, told);
}
