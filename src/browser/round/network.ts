import { type RoundWanted, renewRound } from '../store/round-copy.ts';
import type { QueuedPhoto, TabletEntry, TabletRound } from '../store/types.ts';

/** What became of one entry. */
export interface EntryAnswer {
  id: string;
  outcome: 'taken' | 'there' | 'refused';
  why?: string;
  /** Of a refused one: whether the service holds what was typed. */
  held?: boolean;
}

/**
 * Why a request gave nothing: no network (or a service that is down), signed out, a token of an older sign-in, no such
 * round, something that the service will never take, or something at which it failed.
 */
export type Trouble = 'away' | 'signed out' | 'old token' | 'no such round' | 'refused' | 'failed';

export type Result<T> = { ok: true; value: T } | { ok: false; trouble: Trouble; why?: string };

/** What became of a photo. One of a rack takes long to read: where it is `being read`, the same is sent again later. */
export interface PhotoAnswer {
  outcome: 'taken' | 'there' | 'being read';
}

/** How a tablet speaks with the service. */
export interface Network {
  /** The round with all its screens, those wanted as they stand; `keep` hears of it while screens come. */
  round(
    id: string,
    wanted: RoundWanted,
    keep: (copy: TabletRound) => Promise<void>,
  ): Promise<Result<TabletRound>>;
  /** Sends entries in their order. */
  entries(roundId: string, csrf: string, entries: readonly TabletEntry[]): Promise<Result<EntryAnswer[]>>;
  photo(csrf: string, photo: QueuedPhoto): Promise<Result<PhotoAnswer>>;
}

/** How long an answer is waited for, ms (own choice; a photo takes a slow network longer). */
const patience = 20_000;
const photoPatience = 90_000;

async function ask(url: string, init: RequestInit = {}, wait = patience): Promise<Result<unknown>> {
  try {
    const headers = { accept: 'application/json', ...init.headers };
    const answer = await fetch(url, { ...init, headers, signal: AbortSignal.timeout(wait) });
    if (answer.ok) return { ok: true, value: await answer.json() };
    const { detail } = (await answer.json().catch(() => ({}))) as { detail?: string };
    return { ok: false, trouble: troubleOf(answer.status), ...(detail === undefined ? {} : { why: detail }) };
  } catch {
    return { ok: false, trouble: 'away' };
  }
}

/** Too many requests, too slow, and what a proxy says of a service that is down: the same may be taken later. */
const later: ReadonlySet<number> = new Set([408, 425, 429, 502, 503, 504]);

/** What an answer's status means for sending. */
export function troubleOf(status: number): Trouble {
  if (status === 401) return 'signed out';
  if (status === 403) return 'old token';
  if (status === 404) return 'no such round';
  if (later.has(status) || status < 400) return 'away';
  return status < 500 ? 'refused' : 'failed';
}

/** The device's own time lets the service see whether its clock is right. */
const writing = (csrf: string, type: string) => ({
  'content-type': type,
  'x-csrf-token': csrf,
  'device-time': new Date().toISOString(),
});

const drawn = (id: string, paths: readonly string[]) =>
  ask(`/api/rounds/${id}?${new URLSearchParams(paths.map((path) => ['draw', path]))}`) as Promise<
    Result<TabletRound>
  >;

export const network: Network = {
  round: (id, wanted, keep) => renewRound(wanted, (paths) => drawn(id, paths), keep),
  async entries(roundId, csrf, entries) {
    const headers = writing(csrf, 'application/json');
    const body = JSON.stringify(entries);
    const sent = await ask(`/api/rounds/${roundId}/entries`, { method: 'POST', headers, body });
    return sent.ok ? { ok: true, value: (sent.value as { entries: EntryAnswer[] }).entries } : sent;
  },
  async photo(csrf, { id, lotId, rackId, entryId, takenAt, notedBy = '', focal35 = null, image }) {
    const headers = writing(csrf, image.type || 'image/jpeg');
    const where = new URLSearchParams({
      ...(rackId === undefined ? { lotId } : { rackId }),
      takenAt,
      ...(entryId === null ? {} : { entryId }),
      ...(notedBy === '' ? {} : { notedBy }),
      ...(focal35 === null ? {} : { focal35: String(focal35) }),
    });
    const path = rackId === undefined ? `/api/photos/${id}` : `/api/rack-photographs/${id}`;
    return (await ask(
      `${path}?${where}`,
      { method: 'PUT', headers, body: image },
      photoPatience,
    )) as Result<PhotoAnswer>;
  },
};
