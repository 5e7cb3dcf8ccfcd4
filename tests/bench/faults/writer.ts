import { setTimeout as wait } from 'node:timers/promises';
import type pg from 'pg';
import { uuidv7 } from 'uuidv7';

/** A farm that somebody walks: whom to sign in, and on which round to note. */
export interface Walk {
  roundId: string;
  person: { email: string; password: string };
}

/** Somebody who notes one thing after the other, sends each until it is acknowledged, to each instance in turn. */
export class Writer {
  readonly acknowledged: string[] = [];
  /** Answers that say the service failed, and the longest that a write took, ms. */
  readonly counted = { failures: 0, serverErrors: 0, longestMs: 0 };
  readonly #addresses: readonly string[];
  readonly #walk: Walk;
  readonly #cookies = new Map<string, string>();
  #csrf = '';
  #at = 0;
  #isOn = true;
  #lastBegun = 0;

  constructor(addresses: readonly string[], walk: Walk) {
    this.#addresses = addresses;
    this.#walk = walk;
  }

  async #ask(path: string, init: RequestInit = {}): Promise<Response> {
    const cookie = [...this.#cookies].map(([name, value]) => `${name}=${value}`).join('; ');
    const answer = await fetch(`${this.#addresses[this.#at]}${path}`, {
      ...init,
      redirect: 'manual',
      signal: AbortSignal.timeout(10_000),
      headers: { ...init.headers, cookie },
    });
    for (const line of answer.headers.getSetCookie()) {
      const [, name = '', value = ''] = /^([^=]+)=([^;]*)/.exec(line) ?? [];
      this.#cookies.set(name, value);
    }
    return answer;
  }

  async signIn(): Promise<void> {
    const page = await (await this.#ask('/sign-in')).text();
    const _csrf = /name="_csrf" value="([^"]+)"/.exec(page)?.[1] ?? '';
    const { status } = await this.#ask('/sign-in', {
      method: 'POST',
      body: new URLSearchParams({ _csrf, ...this.#walk.person }),
    });
    if (status !== 303) throw new Error(`nobody can sign in: ${status}`);
    const round = (await (
      await this.#ask(`/api/rounds/${this.#walk.roundId}`, { headers: { accept: 'application/json' } })
    ).json()) as { csrf: string };
    this.#csrf = round.csrf;
  }

  /** Notes until it is stopped. */
  async run(): Promise<void> {
    while (this.#isOn) {
      const id = uuidv7();
      const began = performance.now();
      while (this.#isOn && !(await this.#send(id))) await wait(100);
      if (!this.#isOn) return;
      this.counted.longestMs = Math.max(this.counted.longestMs, performance.now() - began);
    }
  }

  async #send(id: string): Promise<boolean> {
    const begun = performance.now();
    const at = new Date().toISOString();
    const entry = { id, kind: 'chore', key: 'own:swept', note: id, at };
    try {
      const answer = await this.#ask(`/api/rounds/${this.#walk.roundId}/entries`, {
        method: 'POST',
        headers: {
          'content-type': 'application/json',
          'x-csrf-token': this.#csrf,
          accept: 'application/json',
        },
        body: JSON.stringify([entry]),
      });
      const body = (await answer.json()) as { entries?: { outcome: string }[] };
      if (answer.status === 200 && body.entries?.[0]?.outcome !== 'refused') {
        this.acknowledged.push(id);
        this.#lastBegun = begun;
        // To each instance in turn, as a proxy sends it.
        this.#turn();
        return true;
      }
      if (answer.status === 500) this.counted.serverErrors += 1;
    } catch {
      // No answer, or half of one.
    }
    this.counted.failures += 1;
    this.#turn();
    return false;
  }

  #turn(): void {
    this.#at = (this.#at + 1) % this.#addresses.length;
  }

  /** Seconds until something that was begun from now on is acknowledged. */
  async servesAgain(since = performance.now()): Promise<number> {
    while (this.#lastBegun < since) {
      await wait(20);
      if (performance.now() - since > 120_000) return Number.POSITIVE_INFINITY;
    }
    return (performance.now() - since) / 1000;
  }

  stop(): void {
    this.#isOn = false;
  }
}

/** How many of what was acknowledged are missing, and how many were done more than once. */
export async function compareWith(pool: pg.Pool, acknowledged: readonly string[]) {
  const { rows } = await pool.query<{ id: string; times: number }>(
    `SELECT entry.id, (SELECT count(*) FROM journal_line WHERE kind = 'chore.done' AND detail->>'note' = entry.id::text)::int AS times
       FROM round_entry AS entry WHERE entry.id = ANY($1::uuid[])`,
    [acknowledged],
  );
  return {
    lost: acknowledged.length - rows.filter(({ times }) => times > 0).length,
    doubled: rows.filter(({ times }) => times > 1).length,
  };
}
