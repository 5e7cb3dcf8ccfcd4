import { memoryStore } from '../../../src/browser/store/memory-store.ts';
import type { Store } from '../../../src/browser/store/store.ts';

/** What may go wrong with a tablet's storage. */
export interface DiskFaults {
  /** How long a write takes, ms. */
  delay(): number;
  isFull(): boolean;
  wait(ms: number): Promise<void>;
}

const never = new Promise<never>(() => undefined);
const writes: ReadonlySet<string> = new Set(['add', 'amend', 'mark', 'keepRound', 'addPhoto', 'markPhoto']);
const reads: ReadonlySet<string> = new Set(['all', 'round', 'photos']);

/**
 * A tablet's storage as a page has it: a write happens at one moment after a delay, or not at all when the page is gone
 * by then; a gone page hears of nothing. Where the storage is full, what writes fails and what removes does not.
 */
export function storeOfPage(disk: Store, faults: DiskFaults, isGone: () => boolean): Store {
  const guarded =
    (name: string, act: (...given: never[]) => Promise<unknown>) =>
    async (...given: never[]): Promise<unknown> => {
      if (!reads.has(name)) await faults.wait(faults.delay());
      if (isGone()) return never;
      if (writes.has(name) && faults.isFull()) throw new Error('QuotaExceededError');
      const done = copied(await act(...given));
      return isGone() ? never : done;
    };
  const methods = Object.entries(disk).map(([name, value]) => [
    name,
    typeof value === 'function' ? guarded(name, value as never) : value,
  ]);
  return Object.fromEntries(methods) as Store;
}

/** A page has copies of what is stored, never the thing itself. */
const copied = (value: unknown) => (value === undefined ? undefined : structuredClone(value));

/** What outlives every page of a tablet. */
export const newDisk = (): Store => ({ ...memoryStore(), lasting: true });
