import type { Store } from './store.ts';
import type { QueuedEntry, TabletEntry, TabletRound } from './types.ts';

/**
 * Lets go of what a round fetched anew shows as settled: what was taken is drawn in it; what was refused and put right
 * since is no longer named in it. What the service holds nothing of stays until a person settles it here.
 */
export function letGoOfSettled(store: Store, round: TabletRound): Promise<void> {
  return store.remove(({ roundId, standing, id, onlyHere = false }) => {
    if (standing === 'taken') return true;
    if (standing !== 'refused' || onlyHere) return false;
    // Those of another round stand on that round's own page.
    return roundId !== round.id || !round.refused.includes(id);
  });
}

/** Entries that were refused and that nobody but this tablet holds. */
export const heldHere = (all: readonly QueuedEntry[]): QueuedEntry[] =>
  all.filter(({ standing, onlyHere = false }) => standing === 'refused' && onlyHere);

/** Has an entry that was set aside sent again as it stands, under its own key, so that it counts once. */
export async function sendAgain(store: Store, id: string): Promise<void> {
  await store.mark((kept) => kept.id === id, { standing: 'waiting', why: '', failures: 0, onlyHere: false });
}

/** Puts another entry in the place of one that was set aside. What was set aside goes once the other is kept. */
export async function replace(store: Store, id: string, roundId: string, by: TabletEntry): Promise<void> {
  await store.add(roundId, by, 'waiting');
  await store.remove((kept) => kept.id === id);
}
