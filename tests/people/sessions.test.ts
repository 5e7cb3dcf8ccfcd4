import { Readable } from 'node:stream';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { addressWithin } from '../../src/platform/web/back.ts';
import { type Answer, type Bench, browse, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let owner: Visitor;

const password = 'a long enough password';
const other = 'another long password';

beforeAll(async () => {
  bench = await startBench({ care: false, watching: false });
  await bench.change(async (work) => {
    const site = await work.tx.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
    work.record('site.created', { type: 'site', id: site.id }, { name: site.name });
  });
  owner = await bench.as('owner', 'Ines Varga');
});

afterAll(() => bench.close());

const sessions = () => bench.service.db.session.count();

/** Whether a visitor is signed in. */
const isIn = async (visitor: Visitor) => (await visitor.get('/farm')).location === undefined;

/** Asks for pages without a pause until the returned function is called. */
function poll(visitor: Visitor): () => Promise<void> {
  let goes = true;
  const asking = Promise.all(
    Array.from({ length: 4 }, async () => {
      while (goes) await visitor.get('/farm');
    }),
  );
  return async () => {
    goes = false;
    await asking;
  };
}

describe('a session that was ended stays ended', () => {
  test('by signing out, though requests are under way', async () => {
    for (let tries = 0; tries < 10; tries++) {
      const hand = await bench.as('hand', 'Odo Brandt');
      const stop = poll(hand);
      await hand.post('/sign-out', {});
      await stop();
      expect(await isIn(hand)).toBe(false);
    }
  });

  test('by a new password, though requests are under way', async () => {
    for (let tries = 0; tries < 10; tries++) {
      const hand = await bench.as('hand', `Odo ${'abcdefghij'[tries]}`);
      const stop = poll(hand);
      const { name, email, version } = await bench.service.db.account.findUniqueOrThrow({
        where: { id: hand.id },
      });
      const form = { name, email, role: 'hand', version: String(version), password: other };
      expect((await owner.post(`/people/${hand.id}`, form)).status).toBe(303);
      await stop();
      expect(await isIn(hand)).toBe(false);
    }
  });

  test('though it was written after the account was signed out everywhere', async () => {
    const hand = await bench.as('hand', 'Late Sign');
    const kept = await bench.service.db.session.findFirstOrThrow({ where: { accountId: hand.id } });
    const { name, email, version } = await bench.service.db.account.findUniqueOrThrow({
      where: { id: hand.id },
    });
    const form = { name, email, role: 'hand', version: String(version), password: other };
    expect((await owner.post(`/people/${hand.id}`, form)).status).toBe(303);
    await bench.service.db.session.create({ data: { ...kept, data: kept.data as object } });
    expect(await isIn(hand)).toBe(false);
  });

  test('after ninety days, however often it was used', async () => {
    const hand = await bench.as('hand', 'Old Tablet');
    expect(await isIn(hand)).toBe(true);
    await bench.service.db.session.updateMany({
      where: { accountId: hand.id },
      data: { createdAt: new Date(Date.now() - 91 * 86_400_000) },
    });
    expect(await isIn(hand)).toBe(false);
  });
});

describe('who loses the right while a write comes in slowly', () => {
  const ends: [string, (manager: Visitor) => Promise<Answer>][] = [
    ['by signing out', (manager) => manager.post('/sign-out', {})],
    ['by signing out everywhere', (manager) => manager.post('/account/sign-out', {})],
    ['by a new password', (manager) => changed(manager.id, { password: other })],
    ['by being switched off', (manager) => changed(manager.id, { disabled: 'yes' })],
    ['by a lower role', (manager) => changed(manager.id, { role: 'hand' })],
  ];

  async function changed(id: string, what: Record<string, string>): Promise<Answer> {
    const { name, email, role, version } = await bench.service.db.account.findUniqueOrThrow({
      where: { id },
    });
    return owner.post(`/people/${id}`, { name, email, role, version: String(version), ...what });
  }

  const empty = { email: '', onCall: '', testedOn: '', note: '' };
  const contact = { role: 'neighbour', number: '+351 21 000 00 00', ...empty };
  const ways: [string, string, (form: Record<string, string>) => string][] = [
    ['a form', 'application/x-www-form-urlencoded', (form) => new URLSearchParams(form).toString()],
    ['JSON', 'application/json', (form) => JSON.stringify(form)],
  ];

  test.each(ends)('%s: it is not kept', async (how, end) => {
    for (const [what, type, bodyOf] of ways) {
      const manager = await bench.as('manager', 'Nor Lind');
      const _csrf = /name="_csrf" value="([^"]+)"/.exec((await manager.get('/farm/contacts/new')).body)?.[1];
      const name = `${what}, ${how}`;
      const form = { _csrf: _csrf ?? '', ...contact, name };
      const body = bodyOf(form);
      // The rest comes once the beginning is read, when the service has let its sender in.
      const slow = Readable.from(
        (async function* () {
          yield Buffer.from(body.slice(0, 20));
          expect((await end(manager)).status).toBe(303);
          yield Buffer.from(body.slice(20));
        })(),
        { objectMode: false },
      );
      const headers = { 'content-type': type, 'content-length': String(body.length) };
      const answer = await manager.stream('/farm/contacts', slow, headers);
      expect(answer.location ?? `${answer.status}`, answer.body).toMatch(/^\/sign-in|^40[13]$/);
      expect(await bench.service.db.contact.count({ where: { name } })).toBe(0);
    }
  });
});

test('strangers leave no sessions', async () => {
  const before = await sessions();
  for (let i = 0; i < 20; i++) {
    const stranger = browse(bench.app);
    await stranger.get('/people');
    await stranger.get('/sign-in');
    await stranger.post('/sign-in', { email: 'nobody@example.org', password });
  }
  expect(await sessions()).toBe(before);
});

test('a page is read without writing the session, which is renewed once an hour', async () => {
  const hand = await bench.as('hand', 'Quiet Reader');
  await hand.get('/farm');
  const row = () => bench.service.db.session.findFirstOrThrow({ where: { accountId: hand.id } });
  const first = await row();
  await hand.get('/farm');
  await hand.get('/farm');
  expect(await row()).toEqual(first);
  const data = { ...(first.data as object), renewedAt: Date.now() - 61 * 60_000 };
  await bench.service.db.session.update({ where: { id: first.id }, data: { data } });
  await hand.get('/farm');
  expect((await row()).expiresAt.getTime()).toBeGreaterThan(first.expiresAt.getTime());
});

test('a form drawn for somebody else, or for nobody, is not taken', async () => {
  const stranger = browse(bench.app);
  const page = await stranger.get('/sign-in');
  const token = /name="_csrf" value="([^"]+)"/.exec(page.body)?.[1] ?? '';
  expect(token).not.toBe('');
  const hand = await bench.as('hand', 'Form Keeper');
  expect((await hand.post('/sign-out', { _csrf: token })).status).toBe(403);
});

test.each([
  ['/water?system=a', '/water?system=a'],
  ['//other.example/', null],
  ['/\\other.example/', null],
  ['/\t/other.example/', null],
  ['https://other.example/', null],
  ['/..//other.example', null],
  ['javascript:alert(1)', null],
  [['/water', '/farm'], null],
  [undefined, null],
])('the sign-in leads on to %o as %o', (to, within) => {
  expect(addressWithin(to)).toBe(within);
});

test('after the sign-in nobody is led to another house', async () => {
  const stranger = browse(bench.app);
  const { email } = await bench.service.db.account.findUniqueOrThrow({ where: { id: owner.id } });
  expect((await stranger.get('//other.example/')).location).not.toMatch(/^\/\//);
  const answer = await stranger.post('/sign-in', { email, password, to: '//other.example/' });
  expect(answer.location).toBe('/');
});
