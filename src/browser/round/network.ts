import type { Entry, Round } from './types.ts';

/** What became of one entry. */
export interface Answer {
  id: string;
  outcome: 'taken' | 'there' | 'refused';
  why?: string;
}

/** Why a request gave nothing: no network (or a service that is down), signed out, a token of an older sign-in. */
export type Trouble = 'away' | 'signed out' | 'old token' | 'no such round';

export type Result<T> = { ok: true; value: T } | { ok: false; trouble: Trouble };

const patience = 20_000;

async function ask(url: string, init: RequestInit = {}): Promise<Result<unknown>> {
  try {
    const headers = { accept: 'application/json', ...init.headers };
    const answer = await fetch(url, { ...init, headers, signal: AbortSignal.timeout(patience) });
    if (answer.ok) return { ok: true, value: await answer.json() };
    return { ok: false, trouble: troubleOf(answer.status) };
  } catch {
    return { ok: false, trouble: 'away' };
  }
}

function troubleOf(status: number): Trouble {
  if (status === 401) return 'signed out';
  if (status === 403) return 'old token';
  return status === 404 ? 'no such round' : 'away';
}

/** The round with all its screens as they stand. */
export const fetchRound = (id: string) => ask(`/api/rounds/${id}`) as Promise<Result<Round>>;

/** Sends entries in their order; the device's own time lets the service see whether its clock is right. */
export async function sendEntries(
  roundId: string,
  csrf: string,
  entries: readonly Entry[],
): Promise<Result<Answer[]>> {
  const headers = {
    'content-type': 'application/json',
    'x-csrf-token': csrf,
    'device-time': new Date().toISOString(),
  };
  const body = JSON.stringify(entries);
  const sent = await ask(`/api/rounds/${roundId}/entries`, { method: 'POST', headers, body });
  return sent.ok ? { ok: true, value: (sent.value as { entries: Answer[] }).entries } : sent;
}
