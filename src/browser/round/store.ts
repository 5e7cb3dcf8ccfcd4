import { fresh, memoryStore } from './memory-store.ts';
import type { Entry, Kept, KeptPhoto, Round, Standing } from './types.ts';

/** What the tablet keeps: entries until the service has them, and the last drawn round. */
export interface Store {
  /** False where the browser keeps nothing (private window, no room at the start): all is lost with the page. */
  readonly lasting: boolean;
  add(roundId: string, entry: Entry, standing: Standing): Promise<void>;
  /** Changes an entry that was surely not sent yet; false when it may have been. */
  amend(id: string, entry: Entry): Promise<boolean>;
  /** All entries, in the order they were tapped. */
  all(): Promise<Kept[]>;
  /** Sets the standing of those that pass, in one transaction. */
  mark(which: (kept: Kept) => boolean, change: Partial<Kept>): Promise<Kept[]>;
  remove(which: (kept: Kept) => boolean): Promise<void>;
  keepRound(round: Round): Promise<void>;
  round(id: string): Promise<Round | undefined>;
  addPhoto(photo: KeptPhoto): Promise<void>;
  /** All photos, in the order they were taken. */
  photos(): Promise<KeptPhoto[]>;
  /** Keeps why a photo was not taken by the service. */
  refusePhoto(id: string, why: string): Promise<void>;
  removePhoto(id: string): Promise<void>;
}

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
    return lastingStore(await openDatabase());
  } catch {
    return memoryStore();
  }
}

function lastingStore(database: IDBDatabase): Store {
  // A page of a newer version waits until this one lets go.
  database.onversionchange = () => database.close();
  const changePhotos = async (change: (photos: IDBObjectStore) => void): Promise<void> => {
    const transaction = database.transaction('photos', 'readwrite', { durability: 'strict' });
    change(transaction.objectStore('photos'));
    await committed(transaction);
  };
  const photos = async () =>
    (await done(database.transaction('photos').objectStore('photos').getAll())) as KeptPhoto[];
  /** Reads all entries, changes or deletes some, all in one transaction, durable when it returns. */
  const edit = async (change: (kept: Kept, entries: IDBObjectStore) => void): Promise<Kept[]> => {
    const transaction = database.transaction('entries', 'readwrite', { durability: 'strict' });
    const entries = transaction.objectStore('entries');
    const all = (await done(entries.getAll())) as Kept[];
    for (const kept of all) change(kept, entries);
    await committed(transaction);
    return all;
  };
  return {
    lasting: true,
    async add(roundId, entry, standing) {
      const transaction = database.transaction('entries', 'readwrite', { durability: 'strict' });
      transaction.objectStore('entries').add(fresh(roundId, entry, standing));
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
    async refusePhoto(id, why) {
      const photo = (await photos()).find((one) => one.id === id);
      if (photo !== undefined) await changePhotos((all) => all.put({ ...photo, standing: 'refused', why }));
    },
    removePhoto: (id) => changePhotos((all) => all.delete(id)),
  };
}
