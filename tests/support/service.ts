import type { Readable } from 'node:stream';
import { hash } from '@node-rs/argon2';
import type { FastifyInstance } from 'fastify';
import { loadCare } from '../../seed/care.ts';
import { buildApp } from '../../src/app.ts';
import type { Role } from '../../src/generated/prisma/enums.ts';
import { change, evaluationQueue, type Work } from '../../src/platform/change.ts';
import { readConfig } from '../../src/platform/config.ts';
import type { Database } from '../../src/platform/database.ts';
import type { Jobs } from '../../src/platform/jobs.ts';
import type { Service } from '../../src/platform/service.ts';
import { assemble } from '../../src/start.ts';
import { emptiedDatabase } from './emptied-database.ts';

/** The service on a database of its own, with a clock the test sets. */
export interface Bench {
  service: Service;
  app: FastifyInstance;
  /** Sets the clock. */
  at(now: Date | string): void;
  /** Makes a change as the given account (the service itself when none is given). */
  change<T>(act: (work: Work) => Promise<T>, by?: string | null): Promise<T>;
  /** Creates an account and signs it in. */
  as(role: Role, name?: string): Promise<Visitor>;
  close(): Promise<void>;
}

/** Somebody with a browser: keeps the cookie, knows the form token. */
export interface Visitor {
  id: string;
  get(url: string, headers?: Record<string, string>): Promise<Answer>;
  /** Posts a form (token added). */
  post(url: string, form: Record<string, unknown>, headers?: Record<string, string>): Promise<Answer>;
  /** Posts a form with one file (token added). */
  upload(
    url: string,
    form: Record<string, string>,
    file: { field: string; name: string; content: Buffer },
  ): Promise<Answer>;
  /** Posts JSON (token added). */
  send(url: string, body: object, headers?: Record<string, string>): Promise<Answer>;
  /** Posts a body as it comes; its token stands in it. */
  stream(url: string, body: Readable, headers: Record<string, string>): Promise<Answer>;
  /** Puts bytes (token added). */
  put(url: string, body: Buffer, headers: Record<string, string>): Promise<Answer>;
}

export interface Answer {
  status: number;
  location: string | undefined;
  body: string;
  /** The bytes of the body. */
  raw: Buffer;
  json(): unknown;
  headers: Record<string, unknown>;
}

/** What the tests call now unless they set another time. */
export const benchNow = new Date('2026-11-24T08:00:00Z');

const password = 'a long enough password';
/** Its hash, of the service's kind and with as little work as there can be: it is compared with at each signing in. */
let hashed: Promise<string> | undefined;
function passwordHashed() {
  hashed ??= hash(password, { memoryCost: 8, timeCost: 1, parallelism: 1 });
  return hashed;
}

/**
 * Starts a bench; `care` (default true) loads the care library, quantities and methods. Without `watching` no rule is
 * run by itself, so that alerts made by hand stay as they were made; without `working` nothing that was queued is worked
 * on, as it need not be where all routes are asked one after the other: one of them has a backup made and proven. `running`:
 * its clock is the machine's, as a browser's is, which then cannot be set. Nothing comes by the hour or the minute: a digest
 * that was made because a test happened to run across a full minute would be there in some runs alone.
 */
export async function startBench(
  options: {
    care?: boolean;
    watching?: boolean;
    working?: boolean;
    running?: boolean;
    settings?: Record<string, string>;
  } = {},
): Promise<Bench> {
  return benchOn(await emptiedDatabase(), options);
}

/**
 * A bench on a database that is there; without `running`, its clock stands where the test sets it. `settings` are those of
 * the environment.
 */
export async function benchOn(
  database: Database,
  {
    care = true,
    watching = true,
    working = true,
    running = false,
    settings = {} as Record<string, string | undefined>,
  } = {},
): Promise<Bench> {
  let now = benchNow;
  const LOG_LEVEL = process.env.TEST_LOG ?? 'silent';
  const config = readConfig({
    LOG_LEVEL,
    BACKUPS: 'elsewhere',
    PUBLIC_URL: 'https://farm.example.org',
    ...settings,
  });
  const time = () => (running ? new Date() : now);
  // Looking after the work of killed instances every few seconds took a tenth and more of the database's time.
  const assembled = await assemble(config, database, time, { holdsWork: !working, looksAfter: false });
  const { jobs } = assembled;
  const service: Service = { ...assembled, jobs: withoutTimes(watching ? jobs : withoutWatch(jobs)) };
  if (care) await loadCare(database.pool);
  const app = await buildApp(service);
  return {
    service,
    app,
    at: (moment) => {
      now = new Date(moment);
    },
    change: (act, by = null) => change(service, { accountId: by }, act),
    as: (role, name) => signIn(service, app, role, name ?? `The ${role}`),
    async close() {
      await app.close();
      await jobs.stop();
      await database.close();
    },
  };
}

const withoutWatch = (jobs: Jobs): Jobs => ({
  ...jobs,
  work: async (queue, ...rest) => {
    if (queue !== evaluationQueue) await jobs.work(queue, ...rest);
  },
});

const withoutTimes = (jobs: Jobs): Jobs => ({ ...jobs, schedule: async () => undefined });

async function signIn(service: Service, app: FastifyInstance, role: Role, name: string): Promise<Visitor> {
  const email = `${name.toLowerCase().replace(/[^a-z]+/g, '.')}.${Math.random().toString(36).slice(2)}@example.org`;
  const passwordHash = await passwordHashed();
  const { id } = await service.db.account.create({ data: { name, email, passwordHash, role } });
  const visitor = browse(app, id);
  const form = await visitor.get('/sign-in');
  await visitor.post('/sign-in', { _csrf: formToken(form.body), email, password });
  return visitor;
}

/** The token of the forms on a page. */
const formToken = (body: string) => /name="_csrf" value="([^"]+)"/.exec(body)?.[1];

const ofAnEndedSession = ({ status, body }: Answer) =>
  status === 403 && /from an older sign-in|sign-in ran out meanwhile/.test(body);

let visitors = 0;

/** A browser on the app: signed out until it signs in. */
export function browse(app: FastifyInstance, id = ''): Visitor {
  const cookies = new Map<string, string>();
  visitors += 1;
  // Each has an address of its own, since a place that signs in often within a minute is kept out.
  const remoteAddress = `10.0.${visitors >> 8}.${visitors & 255}`;
  const ask = async (options: {
    method: 'GET' | 'POST' | 'PUT';
    url: string;
    headers?: Record<string, string>;
    payload?: string | object;
  }) => {
    const cookie = [...cookies].map(([name, value]) => `${name}=${encodeURIComponent(value)}`).join('; ');
    const headers = { ...options.headers, ...(cookie === '' ? {} : { cookie }) };
    const answer = await app.inject({ ...options, headers, remoteAddress });
    for (const { name, value } of answer.cookies) cookies.set(name, value);
    return {
      status: answer.statusCode,
      location: answer.headers.location as string | undefined,
      body: answer.body,
      raw: answer.rawPayload,
      json: () => answer.json() as unknown,
      headers: answer.headers,
    };
  };
  // A token goes with the two cookies, of the session and of forms: a page is asked for it again when they change.
  const held = () => `${cookies.get('evenwater')} ${cookies.get('evenwater-forms')}`;
  let known: { token: string; with: string } | null = null;
  const token = async () => {
    if (known?.with === held()) return known.token;
    // Whoever is signed in finds one on the first.
    for (const url of ['/account', '/welcome', '/sign-in', '/people', '/']) {
      const found = formToken((await ask({ method: 'GET', url, headers: { accept: 'text/html' } })).body);
      if (found === undefined) continue;
      known = { token: found, with: held() };
      return found;
    }
    throw new Error('no form token to be had');
  };
  /** Sends what carries a token, once more with a new one where the one kept was of a session that has ended since. */
  const sent = async (send: () => Promise<Answer>): Promise<Answer> => {
    const kept = known;
    const answer = await send();
    if (kept === null || known !== kept || !ofAnEndedSession(answer)) return answer;
    known = null;
    return send();
  };
  const withToken = async (headers: Record<string, string>) => ({
    ...headers,
    'x-csrf-token': headers['x-csrf-token'] ?? (await token()),
  });
  const html = { accept: 'text/html' };
  return {
    id,
    get: (url, headers = html) => ask({ method: 'GET', url, headers }),
    post: (url, form, more = {}) => {
      const send = async () => {
        const fields = new URLSearchParams();
        for (const [name, value] of Object.entries({ _csrf: form._csrf ?? (await token()), ...form })) {
          for (const one of Array.isArray(value) ? value : [value]) fields.append(name, String(one));
        }
        const headers = { ...html, ...more, 'content-type': 'application/x-www-form-urlencoded' };
        return ask({ method: 'POST', url, headers, payload: fields.toString() });
      };
      return '_csrf' in form ? send() : sent(send);
    },
    upload: async (url, form, { field, name, content }) =>
      sent(async () => {
        const boundary = 'a-part-of-the-form';
        const parts = Object.entries({ _csrf: await token(), ...form }).map(
          ([key, value]) =>
            `--${boundary}\r\ncontent-disposition: form-data; name="${key}"\r\n\r\n${value}\r\n`,
        );
        const quoted = name.replaceAll('"', '%22');
        const head = `--${boundary}\r\ncontent-disposition: form-data; name="${field}"; filename="${quoted}"\r\ncontent-type: application/octet-stream\r\n\r\n`;
        const payload = Buffer.concat([
          Buffer.from(parts.join('') + head),
          content,
          Buffer.from(`\r\n--${boundary}--\r\n`),
        ]);
        const headers = { ...html, 'content-type': `multipart/form-data; boundary=${boundary}` };
        return ask({ method: 'POST', url, headers, payload });
      }),
    send: (url, body, headers = {}) =>
      sent(async () => ask({ method: 'POST', url, headers: await withToken(headers), payload: body })),
    stream: (url, body, headers) =>
      ask({ method: 'POST', url, headers: { ...html, ...headers }, payload: body }),
    put: (url, body, headers) =>
      sent(async () => ask({ method: 'PUT', url, headers: await withToken(headers), payload: body })),
  };
}
