import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { addressWithin } from '../../src/platform/web/back.ts';
import { type Bench, browse, startBench, type Visitor } from '../support/service.ts';

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
