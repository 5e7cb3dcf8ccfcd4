import { memoryStore } from './memory-store.ts';
import { queued, type Store } from './store.ts';
import type { QueuedEntry, QueuedPhoto } from './types.ts';

const done = <T>(request: IDBRequest<T>) =>
  new Promise<T>((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

const committed = (transaction: IDBTransaction) =>
  new Promise<void>((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error);
  });

async function openDatabase(): Promise<IDBDatabase> {
  const request = indexedDB.open('evenwater', 2);
  request.onupgradeneeded = ({ oldVersion }) => {
    if (oldVersion < 1) {
      const entries = request.result.createObjectStore('entries', { keyPath: 'seq', autoIncrement: true });
      entries.createIndex('id', 'id', { unique: true });
      request.result.createObjectStore('rounds', { keyPath: 'id' });
    }
    request.result.createObjectStore('photos', { keyPath: 'id' });
  };
  return done(request);
}

/** Opens the tablet's store; one in memory where the browser has none. */
export async function openStore(): Promise<Store> {
  try {
    return databaseStore(await openDatabase());
  } catch {
    return memoryStore();
  }
}

function databaseStore(database: IDBDatabase): Store {
  // A page of a newer version waits until this one lets go.
  database.onversionchange = () => database.close();
  const changePhotos = async (change: (photos: IDBObjectStore) => void): Promise<void> => {
    const transaction = database.transaction('photos', 'readwrite', { durability: 'strict' });
    change(transaction.objectStore('photos'));
    await committed(transaction);
  };
  const photos = async () =>
    (await done(database.transaction('photos').objectStore('photos').getAll())) as QueuedPhoto[];
  /** Reads all entries, changes or deletes some, all in one transaction, durable when it returns. */
  const edit = async (
    change: (kept: QueuedEntry, entries: IDBObjectStore) => void,
  ): Promise<QueuedEntry[]> => {
    const transaction = database.transaction('entries', 'readwrite', { durability: 'strict' });
    const entries = transaction.objectStore('entries');
    const all = (await done(entries.getAll())) as QueuedEntry[];
    for (const kept of all) change(kept, entries);
    await committed(transaction);
    return all;
  };
  return {
    lasting: true,
    async add(roundId, entry, standing) {
      const transaction = database.transaction('entries', 'readwrite', { durability: 'strict' });
      transaction.objectStore('entries').add(queued(roundId, entry, standing));
      await committed(transaction);
    },
    async amend(id, entry) {
      let amended = false;
      await edit((kept, entries) => {
        if (kept.id !== id || kept.tried) return;
        amended = true;
        entries.put({ ...kept, entry });
      });
      return amended;
    },
    all: () => edit(() => undefined),
    async mark(which, change) {
      const all = await edit((kept, entries) => {
        if (which(kept)) entries.put({ ...kept, ...change });
      });
      return all.filter(which);
    },
    async remove(which) {
      await edit((kept, entries) => {
        if (which(kept) && kept.seq !== undefined) entries.delete(kept.seq);
      });
    },
    async keepRound(round) {
      const transaction = database.transaction('rounds', 'readwrite');
      const rounds = transaction.objectStore('rounds');
      rounds.clear();
      rounds.put(round);
      await committed(transaction);
    },
    round: (id) => done(database.transaction('rounds').objectStore('rounds').get(id)),
    addPhoto: (photo) => changePhotos((all) => all.add(photo)),
    photos,
    async markPhoto(id, change) {
      const photo = (await photos()).find((one) => one.id === id);
      if (photo !== undefined) await changePhotos((all) => all.put({ ...photo, ...change }));
    },
    removePhoto: (id) => changePhotos((all) => all.delete(id)),
  };
}
