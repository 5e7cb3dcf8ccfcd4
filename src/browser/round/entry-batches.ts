import type { Store } from '../store/store.ts';
import type { QueuedEntry } from '../store/types.ts';
import type { EntryAnswer, Result, Trouble } from './network.ts';

/** Entries in one request (own choice): few enough that a slow network gets one through. */
const atOnce = 50;
/** How often the service may fail at one entry, alone, before it is set aside (own choice). */
export const mostFailures = 3;

/** What came of sending all that waits. */
export interface Sent {
  /** How many are off the queue: taken, or set aside. */
  settled: number;
  /** Those at which the service failed, alone. They wait, and do not hold up the others. */
  failed: QueuedEntry[];
  /** What stopped it; null where everything was tried. */
  trouble: Trouble | null;
}

/**
 * Sends what waits, in order. A batch that is refused or that fails as a whole is sent in halves, down to the entry that
 * is at fault: that one is set aside, or left waiting, and those behind it go on.
 */
export async function sendEntries(
  store: Store,
  post: (batch: readonly QueuedEntry[]) => Promise<Result<EntryAnswer[]>>,
): Promise<Sent> {
  const sent: Sent = { settled: 0, failed: [], trouble: null };
  let size = atOnce;
  let stumbled = '';
  for (;;) {
    const batch = await nextBatch(store, size, sent.failed);
    const [first] = batch;
    if (first === undefined) return sent;
    const result = await post(batch);
    if (result.ok) {
      const settled = await settle(store, batch, result.value);
      if (settled === 0) return { ...sent, trouble: 'away' };
      sent.settled += settled;
      size = Math.min(size * 2, atOnce);
    } else if (result.trouble === 'away' || result.trouble === 'signed out') {
      return { ...sent, trouble: result.trouble };
    } else if (batch.length > 1 && result.trouble !== 'no such round') {
      size = Math.ceil(batch.length / 2);
    } else if (result.trouble === 'refused' || result.trouble === 'no such round') {
      await setAside(store, batch, whyNot(result));
      sent.settled += batch.length;
    } else if (stumbled !== first.id) {
      // Once more before those behind it overtake it.
      stumbled = first.id;
    } else {
      sent.failed.push(first);
    }
  }
}

const whyNot = ({ trouble, why }: { trouble: Trouble; why?: string }) =>
  trouble === 'no such round'
    ? 'The service knows no such round any more.'
    : (why ?? 'The service does not take it.');

/** The oldest entries of one round; from now on they may have reached the service. */
async function nextBatch(store: Store, size: number, passed: readonly QueuedEntry[]): Promise<QueuedEntry[]> {
  const passedIds = new Set(passed.map(({ id }) => id));
  const waiting = (await store.all()).filter(
    (kept, i, all) => isToBeSent(kept, i === all.length - 1) && !passedIds.has(kept.id),
  );
  const batch = waiting.filter((kept) => kept.roundId === waiting[0]?.roundId).slice(0, size);
  const ids = new Set(batch.map((kept) => kept.id));
  // As they stand when they are marked: a change that came before the mark is sent, one after it makes another entry.
  // A tablet without room for the mark has none for a change either. It gets room by sending.
  return ids.size === 0 ? [] : store.mark(({ id }) => ids.has(id), { tried: true }).catch(() => batch);
}

/** What another tap followed is no longer being noted, even where the tablet had no room to write that down. */
const isToBeSent = ({ standing }: QueuedEntry, isLast: boolean) =>
  standing === 'waiting' || (standing === 'open' && !isLast);

/** Keeps what became of each. @returns how many of the batch were answered and are off the queue */
async function settle(
  store: Store,
  batch: readonly QueuedEntry[],
  answers: readonly EntryAnswer[],
): Promise<number> {
  const asked = new Set(batch.map(({ id }) => id));
  const known = answers.filter(({ id }) => asked.has(id));
  const taken = new Set(known.filter(({ outcome }) => outcome !== 'refused').map(({ id }) => id));
  if (taken.size > 0) await takeOff(store, taken);
  for (const { id, outcome, why = '', held = true } of known)
    if (outcome === 'refused')
      await store.mark((kept) => kept.id === id, { standing: 'refused', why, onlyHere: !held });
  return known.length;
}

/** Taken: shown until the screens are drawn with it. Where there is no room to write that, it goes at once. */
async function takeOff(store: Store, taken: ReadonlySet<string>): Promise<void> {
  await store
    .mark((kept) => taken.has(kept.id), { standing: 'taken', why: '' })
    .catch(() => store.remove((kept) => taken.has(kept.id)));
}

async function setAside(store: Store, entries: readonly QueuedEntry[], why: string): Promise<void> {
  const ids = new Set(entries.map(({ id }) => id));
  await store.mark((kept) => ids.has(kept.id), { standing: 'refused', why, onlyHere: true });
}

/** Counts one more failure of each while the service was well otherwise; too many, and it is set aside. */
export async function countFailures(store: Store, failed: readonly QueuedEntry[]): Promise<void> {
  for (const { id, failures = 0 } of failed) {
    if (failures + 1 < mostFailures) await store.mark((kept) => kept.id === id, { failures: failures + 1 });
    else
      await store.mark((kept) => kept.id === id, {
        standing: 'refused',
        onlyHere: true,
        why: `The service failed at it ${mostFailures} times.`,
      });
  }
}
