import type { QueuedEntry, QueuedPhoto, QueueState, TabletEntry, TabletRound } from './types.ts';

/** What the tablet keeps: entries until the service has them, and the last drawn round. */
export interface Store {
  /** False where the browser keeps nothing (private window, no room at the start): all is lost with the page. */
  readonly lasting: boolean;
  add(roundId: string, entry: TabletEntry, standing: QueueState): Promise<void>;
  /** Changes an entry that was surely not sent yet; false when it may have been. */
  amend(id: string, entry: TabletEntry): Promise<boolean>;
  /** All entries, in the order they were tapped. */
  all(): Promise<QueuedEntry[]>;
  /** Changes those that pass, in one transaction. @returns them as they stood before, in their order */
  mark(which: (kept: QueuedEntry) => boolean, change: Partial<QueuedEntry>): Promise<QueuedEntry[]>;
  remove(which: (kept: QueuedEntry) => boolean): Promise<void>;
  keepRound(round: TabletRound): Promise<void>;
  round(id: string): Promise<TabletRound | undefined>;
  addPhoto(photo: QueuedPhoto): Promise<void>;
  /** All photos, in the order they were taken. */
  photos(): Promise<QueuedPhoto[]>;
  markPhoto(id: string, change: Partial<QueuedPhoto>): Promise<void>;
  removePhoto(id: string): Promise<void>;
}

/** An entry as it is first put in the queue. */
export const queued = (roundId: string, entry: TabletEntry, standing: QueueState): QueuedEntry => ({
  id: entry.id,
  roundId,
  standing,
  tried: false,
  why: '',
  entry,
});
