import { createHook } from 'node:async_hooks';
import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { hashPassword, hashToCompare } from '../../src/people/passwords.ts';
import { connect, type Database } from '../../src/platform/database.ts';
import { neighbourhoodOf, networkOf } from '../../src/platform/web/wrong-tries.rules.ts';
import { freshDatabase } from '../support/database.ts';
import { type Bench, benchNow, benchOn, browse } from '../support/service.ts';

/** Two instances of the service on one database; the second stands behind a proxy that it is told of. */
let database: Database;
let benches: Bench[];
let time = benchNow.getTime();

const right = 'a long enough password';
const proxy = '10.9.9.9';

beforeAll(async () => {
  database = await freshDatabase();
  benches = [
    await benchOn(database, { care: false, watching: false }),
    await benchOn(connect(database.url, 4), {
      care: false,
      watching: false,
      settings: { TRUST_PROXY: proxy },
    }),
  ];
  await first().change(async (work) => {
    const site = await work.tx.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
    work.record('site.created', { type: 'site', id: site.id }, { name: site.name });
  });
});

// The first bench drops the database, so it is closed last.
afterAll(async () => {
  for (const bench of [...benches].reverse()) await bench.close();
});

beforeEach(async () => {
  await database.pool.query('DELETE FROM wrong_try');
  passes(1);
});

const first = (): Bench => benches[0] as Bench;

/** Lets time pass on all instances. */
function passes(seconds: number): void {
  time += seconds * 1000;
  for (const bench of benches) bench.at(new Date(time));
}

async function account(name: string) {
  const visitor = await first().as('hand', name);
  const found = await first().service.db.account.findUniqueOrThrow({ where: { id: visitor.id } });
  const email = found.email ?? '';
  return { visitor, email };
}

interface Asked {
  from?: string;
  forwarded?: string;
  app?: FastifyInstance;
}

/** A browser of a stranger: a form's token and its cookie. */
async function stranger(app: FastifyInstance) {
  const page = await app.inject({ url: '/sign-in', headers: { accept: 'text/html' } });
  const cookie = page.cookies.map(({ name, value }) => `${name}=${encodeURIComponent(value)}`).join('; ');
  return { cookie, token: /name="_csrf" value="([^"]+)"/.exec(page.body)?.[1] ?? '' };
}

async function guess(
  email: string,
  password: string,
  { from = '192.0.2.1', forwarded, app = first().app }: Asked = {},
) {
  const { cookie, token } = await stranger(app);
  const answer = await app.inject({
    method: 'POST',
    url: '/sign-in',
    remoteAddress: from,
    headers: {
      cookie,
      accept: 'text/html',
      'content-type': 'application/x-www-form-urlencoded',
      ...(forwarded === undefined ? {} : { 'x-forwarded-for': forwarded }),
    },
    payload: new URLSearchParams({ _csrf: token, email, password }).toString(),
  });
  return { status: answer.statusCode, body: answer.body, wait: answer.headers['retry-after'] };
}

/** How many hashes of passwords are worked out meanwhile: the only native work that comes without a name. */
async function countHashes(work: () => Promise<void>): Promise<number> {
  let count = 0;
  const hook = createHook({
    init(_id, type) {
      if (type === 'undefined') count += 1;
    },
  }).enable();
  await work().finally(() => hook.disable());
  return count;
}

const address = (n: number) => `198.51.${n >> 8}.${n & 255}`;

/** How many of so many tries at once were looked at; the others were told to wait. */
async function lookedAt(count: number, ask: (n: number) => ReturnType<typeof guess>): Promise<number> {
  const answers = await Promise.all(Array.from({ length: count }, (_, n) => ask(n)));
  expect(new Set(answers.map(({ status }) => status)).isSubsetOf(new Set([422, 429]))).toBe(true);
  return answers.filter(({ status }) => status === 422).length;
}

describe('guessing at one account', () => {
  test('through two instances, at once and from a new address each time, is bounded', async () => {
    const { email } = await account('Odo Brandt');
    const looked = await lookedAt(60, (n) =>
      guess(email, `guess ${n}`, { from: address(n), app: (benches[n % 2] as Bench).app }),
    );
    expect(looked).toBe(5);
    let day = 0;
    for (let minute = 0; minute < 24 * 60; minute += 5) {
      passes(300);
      day += (await guess(email, 'again', { from: address(minute) })).status === 422 ? 1 : 0;
    }
    expect(day).toBeLessThan(110);
  });

  test('is answered with a pause that grows, and the page says how long', async () => {
    const { email } = await account('Slow Down');
    const waits: number[] = [];
    for (let n = 0; n < 5; n++) await guess(email, 'wrong');
    for (let n = 0; n < 4; n++) {
      const refused = await guess(email, 'wrong');
      expect(refused.status).toBe(429);
      expect(refused.body).toContain('Too many wrong tries. Wait ');
      waits.push(Number(refused.wait));
      passes(Number(refused.wait));
      expect((await guess(email, 'wrong')).status).toBe(422);
    }
    expect(waits).toEqual([1, 2, 4, 8]);
  });

  test('says, counts and works out the same for an account that does not exist or is disabled', async () => {
    const { email } = await account('Real Person');
    const left = await account('Left Person');
    await first().service.db.account.update({
      where: { email: left.email },
      data: { disabledAt: new Date(time) },
    });
    const tried = async (to: string) => {
      const answers: Awaited<ReturnType<typeof guess>>[] = [];
      const hashes = await countHashes(async () => {
        for (let n = 0; n < 7; n++) answers.push(await guess(to, 'wrong', { from: address(n) }));
      });
      const plain = answers.map(({ status, body, wait }) => ({
        status,
        wait,
        body: body.replaceAll(to, 'x').replace(/value="[\w-]{36,}"/g, ''),
      }));
      return { plain, hashes };
    };
    const real = await tried(email);
    // Five are looked at, the others are told to wait.
    expect(real.hashes).toBe(5);
    for (const to of ['nobody.at.all@example.org', left.email]) {
      await database.pool.query('DELETE FROM wrong_try');
      expect(await tried(to)).toEqual(real);
    }
    // The one that is compared where there is none costs what a person's does.
    const costOf = (hash: string) => hash.split('$').slice(1, 4);
    expect(costOf(hashToCompare(null))).toEqual(costOf(await hashPassword('any')));
  });

  test('never locks out the person on a device that signed in before, and locks that device for itself', async () => {
    const { visitor, email } = await account('Ines Varga');
    await visitor.post('/sign-out', {});
    await lookedAt(40, (n) => guess(email, 'wrong', { from: address(n) }));
    expect((await guess(email, right)).status).toBe(429);
    expect((await visitor.post('/sign-in', { email, password: right })).location).toBe('/');
    await visitor.post('/sign-out', {});
    for (let n = 0; n < 5; n++) await visitor.post('/sign-in', { email, password: 'wrong' });
    expect((await visitor.post('/sign-in', { email, password: right })).status).toBe(429);
  });

  test('a device counts as known no longer once the password is new', async () => {
    const { visitor, email } = await account('Left Tablet');
    const owner = await first().as('owner');
    const { name, version } = await first().service.db.account.findUniqueOrThrow({ where: { email } });
    const form = { name, role: 'hand', version: String(version), password: 'another long password' };
    expect((await owner.post(`/people/${visitor.id}`, form)).status).toBe(303);
    await lookedAt(20, (n) => guess(email, 'wrong', { from: address(n) }));
    expect((await visitor.post('/sign-in', { email, password: 'another long password' })).status).toBe(429);
  });
});

describe('guessing from one address', () => {
  test('at many accounts is bounded, whatever address it says to be', async () => {
    const looked = await lookedAt(60, (n) =>
      guess(`invented.${n}@example.org`, 'wrong', { forwarded: address(n) }),
    );
    expect(looked).toBe(30);
    const second = (benches[1] as Bench).app;
    expect((await guess('one.more@example.org', 'x', { forwarded: address(99), app: second })).status).toBe(
      429,
    );
  });

  test('counts by the address that a named proxy says', async () => {
    const app = (benches[1] as Bench).app;
    const looked = await lookedAt(40, (n) =>
      guess(`invented.${n}@example.org`, 'wrong', { from: proxy, forwarded: address(n), app }),
    );
    expect(looked).toBe(40);
  });

  test('a right password costs no try', async () => {
    const { email } = await account('Often In');
    for (let n = 0; n < 40; n++) expect((await guess(email, right)).status).toBe(303);
  });

  test('made up access keys and codes of tags are bounded too, and hold up no right one', async () => {
    const owner = await first().as('owner');
    const made = await owner.post('/people/keys', { name: 'Doser' });
    const key = /<code class="key-text">(ew_[\w-]{43})<\/code>/.exec(made.body)?.[1] ?? '';
    const post = (using: string) =>
      first().app.inject({
        method: 'POST',
        url: '/api/readings',
        headers: { authorization: `Bearer ${using}` },
        payload: {},
      });
    const keys = await Promise.all(Array.from({ length: 50 }, (_, n) => post(`ew_invented_${n}`)));
    expect(keys.filter(({ statusCode }) => statusCode === 401)).toHaveLength(30);
    expect(keys.filter(({ statusCode }) => statusCode === 429)).toHaveLength(20);
    expect((await post(key)).statusCode).toBe(400);
    await database.pool.query('DELETE FROM wrong_try');
    const buyer = browse(first().app);
    const codes = await Promise.all(Array.from({ length: 50 }, (_, n) => buyer.get(`/t/invented-${n}`)));
    expect(codes.filter(({ status }) => status === 404)).toHaveLength(30);
    expect(codes.filter(({ status }) => status === 429)).toHaveLength(20);
  });
});

test('who signed in, who failed to and who signed out stands in the journal, without what was typed', async () => {
  const { visitor, email } = await account('Journal Reader');
  await guess(email, 'my other secret');
  await guess('typed.my.password.here', 'my other secret');
  await visitor.post('/sign-out', {});
  const lines = await first().service.db.journalLine.findMany({
    where: { kind: { startsWith: 'sign_in.' } },
  });
  expect(lines.filter(({ subjectId }) => subjectId === visitor.id).map(({ kind }) => kind)).toEqual([
    'sign_in.made',
    'sign_in.failed',
    'sign_in.ended',
  ]);
  expect(lines.some(({ kind, subjectType }) => kind === 'sign_in.failed' && subjectType === 'site')).toBe(
    true,
  );
  expect(JSON.stringify(lines)).not.toMatch(/my other secret|typed\.my/);
  const failed = lines.filter(({ kind }) => kind === 'sign_in.failed').map(({ detail }) => detail);
  expect(failed).toContainEqual({ from: expect.any(String), tries: 1 });
});

test.each([
  ['203.0.113.77', '203.0.113.x'],
  ['::ffff:203.0.113.77', '203.0.113.x'],
  ['2001:db8:7:2:3:4:5:6', '2001:db8:7::x'],
  ['192.168.4.20', '192.168.4.20'],
  ['::1', '::1'],
])('of %s, the address of a wrong try, the journal keeps %s', (address, kept) => {
  expect(neighbourhoodOf(address)).toBe(kept);
});

test('the network of an address: one of IPv4, the first 64 bits of IPv6', () => {
  expect(networkOf('192.0.2.7')).toBe('192.0.2.7');
  expect(networkOf('::ffff:192.0.2.7')).toBe('192.0.2.7');
  expect(networkOf('2001:db8:1:2:3:4:5:6')).toBe(networkOf('2001:db8:1:2::9'));
  expect(networkOf('2001:db8:1:2::9')).not.toBe(networkOf('2001:db8:1:3::9'));
  expect(networkOf('::1')).toBe('0:0:0:0');
});

describe('guessing on the page of forgotten passwords', () => {
  /** Asks for a link through one of two instances that send mail. */
  const sending: Bench[] = [];
  beforeAll(async () => {
    for (const _ of [1, 2])
      sending.push(
        await benchOn(connect(database.url, 4), {
          care: false,
          watching: false,
          settings: { SMTP_URL: 'smtp://127.0.0.1:9', MAIL_FROM: 'a@example.org' },
        }),
      );
  });
  afterAll(async () => {
    for (const bench of sending) await bench.close();
  });

  async function forgot(email: string, from: string, n: number) {
    const { app } = sending[n % 2] as Bench;
    for (const bench of sending) bench.at(new Date(time));
    const { cookie, token } = await stranger(app);
    const answer = await app.inject({
      ...{ method: 'POST', url: '/forgotten', remoteAddress: from },
      headers: { cookie, accept: 'text/html', 'content-type': 'application/x-www-form-urlencoded' },
      payload: new URLSearchParams({ _csrf: token, email }).toString(),
    });
    return { status: answer.statusCode, body: answer.body, wait: answer.headers['retry-after'] };
  }
  const letters = async () =>
    Number(
      (await database.pool.query(`SELECT count(*) FROM pgboss.job WHERE data ? 'forgotten'`)).rows[0].count,
    );

  test('at one account from ever new addresses, few letters are asked for', async () => {
    const { email } = await account('Often Forgotten');
    const before = await letters();
    const answers = await Promise.all(Array.from({ length: 40 }, (_, n) => forgot(email, address(n), n)));
    expect(answers.filter(({ status }) => status === 200)).toHaveLength(5);
    expect((await letters()) - before).toBe(5);
  });

  test('at invented addresses from one network it is bounded, and answered as a real one', async () => {
    const { email } = await account('Real One');
    const plain = (body: string, to: string) => body.replaceAll(to, 'x').replace(/value="[\w-]{36,}"/g, '');
    const real = await forgot(email, '192.0.2.77', 0);
    const none = await forgot('nobody@example.org', '192.0.2.78', 0);
    expect([none.status, plain(none.body, 'nobody@example.org')]).toEqual([
      real.status,
      plain(real.body, email),
    ]);
    const answers = await Promise.all(
      Array.from({ length: 60 }, (_, n) => forgot(`invented.${n}@example.org`, '203.0.113.5', n)),
    );
    expect(answers.filter(({ status }) => status === 200)).toHaveLength(30);
  });

  test('an invented link is told from a right one by nothing but that it is over, and trying is bounded', async () => {
    const { app } = sending[0] as Bench;
    const ask = (n: number) =>
      ((sending[n % 2] as Bench).app ?? app).inject({
        url: `/password/${'x'.repeat(42)}${n % 10}`,
        remoteAddress: '203.0.113.9',
        headers: { accept: 'text/html' },
      });
    const statuses = [];
    for (let n = 0; n < 60; n++) statuses.push((await ask(n)).statusCode);
    expect(new Set(statuses)).toEqual(new Set([410, 429]));
    expect(statuses.filter((status) => status === 410).length).toBeLessThanOrEqual(30);
  });
});

describe('guessing at a PIN', () => {
  test('through two instances with one tablet’s cookie is bounded as through one', async () => {
    const owner = await first().as('owner', 'Ines Pin');
    const hands = await Promise.all(
      ['One', 'Two'].map(async (name) => {
        const form = { name: `Hand ${name}`, email: '', role: 'hand', password: '', pin: '8305' };
        expect((await owner.post('/people', form)).status).toBe(303);
        return (await first().service.db.account.findFirstOrThrow({ where: { name: form.name } })).id;
      }),
    );
    const manager = await first().as('manager', 'Lena Pin');
    const enrolled = await manager.post('/people/tablets', { name: 'Hall', idleMin: 15, people: hands });
    const cookies = [enrolled.headers['set-cookie']].flat().map((one) => String(one).split(';')[0]);
    const tablet = cookies.find((one) => one?.startsWith('evenwater-tablet=')) ?? '';
    const tryPin = async (id: string | undefined, pin: string, n: number) => {
      const { app } = benches[n % 2] as Bench;
      const { cookie, token } = await stranger(app);
      return app.inject({
        ...{ method: 'POST', url: `/tablet/${id}`, remoteAddress: address(n) },
        headers: {
          cookie: `${cookie}; ${tablet}`,
          accept: 'text/html',
          'content-type': 'application/x-www-form-urlencoded',
        },
        payload: new URLSearchParams({ _csrf: token, pin }).toString(),
      });
    };
    const answers = await Promise.all(
      Array.from({ length: 50 }, (_, n) => tryPin(hands[0], String(1000 + n), n)),
    );
    const statuses = answers.map(({ statusCode }) => statusCode);
    expect(statuses.filter((status) => status === 422)).toHaveLength(4);
    expect(statuses.filter((status) => status === 429)).toHaveLength(46);
    // Two devices with the one enrolment (a copied cookie) count together too; the other hand is let in.
    expect((await tryPin(hands[0], '8305', 1)).statusCode).toBe(429);
    expect((await tryPin(hands[1], '8305', 1)).statusCode).toBe(303);
  });
});
