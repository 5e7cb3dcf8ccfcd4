import { queued, type Store } from './store.ts';
import type { QueuedEntry, QueuedPhoto, TabletRound } from './types.ts';

/** A store that is gone with the page, for browsers that keep nothing. */
export function memoryStore(): Store {
  let all: QueuedEntry[] = [];
  let drawn: TabletRound | undefined;
  let photos: QueuedPhoto[] = [];
  return {
    lasting: false,
    async add(roundId, entry, standing) {
      all.push(queued(roundId, entry, standing));
    },
    async amend(id, entry) {
      const kept = all.find((one) => one.id === id && !one.tried);
      if (kept !== undefined) kept.entry = entry;
      return kept !== undefined;
    },
    all: async () => [...all],
    async mark(which, change) {
      const marked = all.filter(which);
      const before = marked.map((kept) => ({ ...kept }));
      for (const kept of marked) Object.assign(kept, change);
      return before;
    },
    async remove(which) {
      all = all.filter((kept) => !which(kept));
    },
    async keepRound(round) {
      drawn = round;
    },
    round: async (id) => (drawn?.id === id ? drawn : undefined),
    async addPhoto(photo) {
      photos.push(photo);
    },
    photos: async () => [...photos],
    async markPhoto(id, change) {
      photos = photos.map((one) => (one.id === id ? { ...one, ...change } : one));
    },
    async removePhoto(id) {
      photos = photos.filter((one) => one.id !== id);
    },
  };
}
