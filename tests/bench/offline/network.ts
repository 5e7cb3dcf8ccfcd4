import type { FastifyInstance } from 'fastify';
import {
  type EntryAnswer,
  type Network,
  type Result,
  troubleOf,
} from '../../../src/browser/round/network.ts';
import { renewRound } from '../../../src/browser/store/round-copy.ts';
import type { TabletRound } from '../../../src/browser/store/types.ts';

/** A hand who is signed in, as the service sees it: a cookie, which may run out. */
export class Session {
  readonly #app: FastifyInstance;
  readonly #person: { email: string; password: string };
  readonly #cookies = new Map<string, string>();
  #signIns = 0;

  constructor(app: FastifyInstance, person: { email: string; password: string }) {
    this.#app = app;
    this.#person = person;
  }

  /** Signs in, from an address of its own each time: a place that signs in twenty times a minute is kept out. */
  async signIn(): Promise<void> {
    this.#signIns += 1;
    for (let tries = 0; tries < 10; tries++) if (await this.#trySignIn()) return;
    throw new Error('nobody can sign in');
  }

  /** False where another answer on its way brought a cookie of its own between the page and the form. */
  async #trySignIn(): Promise<boolean> {
    const page = await this.#ask('GET', '/sign-in', {}, undefined, 'text/html');
    const token = /name="_csrf" value="([^"]+)"/.exec(page.body)?.[1] ?? '';
    const form = new URLSearchParams({ _csrf: token, ...this.#person }).toString();
    const type = { 'content-type': 'application/x-www-form-urlencoded' };
    const { statusCode } = await this.#ask('POST', '/sign-in', type, form, 'text/html');
    return statusCode === 303;
  }

  end(): void {
    this.#cookies.delete('evenwater');
  }

  async #ask(
    method: 'GET' | 'POST',
    url: string,
    headers: Record<string, string>,
    payload?: string,
    accept = 'application/json',
  ) {
    const sent = [...this.#cookies].map(([name, value]) => `${name}=${encodeURIComponent(value)}`).join('; ');
    const cookie = sent === '' ? {} : { cookie: sent };
    const answer = await this.#app.inject({
      method,
      url,
      remoteAddress: `10.${this.#signIns >> 16}.${(this.#signIns >> 8) & 255}.${this.#signIns & 255}`,
      headers: { accept, ...headers, ...cookie },
      ...(payload === undefined ? {} : { payload }),
    });
    for (const { name, value } of answer.cookies) this.#cookies.set(name, value);
    return answer;
  }

  async json<T>(
    method: 'GET' | 'POST',
    url: string,
    headers: Record<string, string> = {},
    body?: string,
  ): Promise<Result<T>> {
    const answer = await this.#ask(method, url, headers, body);
    return answer.statusCode < 300
      ? { ok: true, value: answer.json() as T }
      : { ok: false, trouble: troubleOf(answer.statusCode) };
  }
}

/** What may go wrong on the way, and whether the page that asked is still there to hear of it. */
export interface Weather {
  /** Nothing reaches the service. */
  cutBefore(): boolean;
  /** The service does it; nobody hears of it. */
  cutAfter(): boolean;
  gone(): boolean;
}

/** The tablet's own way of speaking with the service, over a line that fails. */
export function overFailingLine(session: Session, weather: Weather): Network {
  const never = new Promise<never>(() => undefined);
  const pass = async <T>(ask: () => Promise<Result<T>>): Promise<Result<T>> => {
    if (weather.gone()) return never;
    const away: Result<T> = { ok: false, trouble: 'away' };
    if (weather.cutBefore()) return away;
    const answer = await ask();
    if (weather.gone()) return never;
    return weather.cutAfter() ? away : answer;
  };
  const writing = (csrf: string) => ({
    'content-type': 'application/json',
    'x-csrf-token': csrf,
    'device-time': new Date().toISOString(),
  });
  return {
    round: (id, wanted, keep) => {
      const drawn = (paths: readonly string[]) => new URLSearchParams(paths.map((path) => ['draw', path]));
      const draw = (paths: readonly string[]) =>
        pass(() => session.json<TabletRound>('GET', `/api/rounds/${id}?${drawn(paths)}`));
      return renewRound(wanted, draw, keep);
    },
    entries: (roundId, csrf, entries) =>
      pass(async () => {
        const path = `/api/rounds/${roundId}/entries`;
        const sent = await session.json<{ entries: EntryAnswer[] }>(
          'POST',
          path,
          writing(csrf),
          JSON.stringify(entries),
        );
        return sent.ok ? { ok: true, value: sent.value.entries } : sent;
      }),
    photo: async () => ({ ok: true, value: { outcome: 'taken' } }),
  };
}
