import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import type { Database } from '../../src/platform/database.ts';
import { freshDatabase } from '../support/database.ts';
import { type Bench, benchNow, benchOn, browse, type Visitor } from '../support/service.ts';
import { type MailServer, startMailServer } from '../support/smtp.ts';

let bench: Bench;
let mail: MailServer;
let database: Database;
const first = 'the first long password';
const second = 'a second long password';
const settings = () => ({ SMTP_URL: mail.url, MAIL_FROM: 'Evenwater <evenwater@example.org>' });

beforeAll(async () => {
  mail = await startMailServer();
  database = await freshDatabase();
  bench = await benchOn(database, { watching: false, settings: settings() });
  await bench.service.db.site.create({ data: { name: 'Saltgate', timeZone: 'Europe/Lisbon' } });
  await bench.as('owner', 'Ines Varga');
});

afterAll(async () => {
  await bench.close();
  await mail.close();
});

let people = 0;

/** A hand with a password, signed in on so many browsers. */
async function person(browsers: number): Promise<{ id: string; email: string; on: Visitor[] }> {
  people += 1;
  const email = `hand.${people}@example.org`;
  const data = {
    name: `Hand ${people}`,
    email,
    passwordHash: await hashPassword(first),
    role: 'hand' as const,
  };
  const { id } = await bench.service.db.account.create({ data });
  const on: Visitor[] = [];
  for (let i = 0; i < browsers; i++) on.push(await signedIn(email, first));
  return { id, email, on };
}

async function signedIn(email: string, password: string): Promise<Visitor> {
  const visitor = browse(bench.app);
  await visitor.post('/sign-in', { email, password });
  return visitor;
}

const isIn = async (visitor: Visitor) => (await visitor.get('/account')).status === 200;

/** The link in the newest letter to an address. */
async function linkTo(address: string): Promise<string> {
  const letter = () => mail.taken.findLast(({ to }) => to === address);
  await expect.poll(letter).toBeDefined();
  return /https?:\/\/[^/]+(\/\w+\/[\w-]+)/.exec(letter()?.mail.text ?? '')?.[1] ?? '';
}

const kindsOf = async (subjectId: string) =>
  (await bench.service.db.journalLine.findMany({ where: { subjectId } })).map(({ kind }) => kind);

describe('one changes the own password', () => {
  test('with the old one; other devices are signed out, this one stays', async () => {
    const { id, email, on } = await person(2);
    const [here, there] = on as [Visitor, Visitor];
    const wrong = await here.post('/account/password', { current: 'not this one', password: second });
    expect(wrong.status).toBe(422);
    expect(wrong.body).toContain('That is not your password');
    expect(wrong.body).not.toContain('not this one');
    expect((await here.post('/account/password', { current: first, password: second })).status).toBe(303);
    expect(await isIn(here)).toBe(true);
    expect(await isIn(there)).toBe(false);
    expect(await isIn(await signedIn(email, first))).toBe(false);
    expect(await isIn(await signedIn(email, second))).toBe(true);
    expect(await kindsOf(id)).toContain('account.password_changed');
  });

  test('a stolen session that guesses at it is slowed', async () => {
    const { on } = await person(1);
    const [here] = on as [Visitor];
    const statuses: number[] = [];
    for (let i = 0; i < 7; i++)
      statuses.push(
        (await here.post('/account/password', { current: `guess ${i}`, password: second })).status,
      );
    expect(statuses.slice(0, 5)).toEqual([422, 422, 422, 422, 422]);
    expect(statuses.at(-1)).toBe(429);
  });
});

test('signing out everywhere ends each session of the person and of nobody else', async () => {
  const one = await person(3);
  const other = await person(1);
  expect((await one.on[0]?.post('/account/sign-out', {}))?.status).toBe(303);
  for (const visitor of one.on) expect(await isIn(visitor)).toBe(false);
  expect(await isIn(other.on[0] as Visitor)).toBe(true);
});

describe('a forgotten password', () => {
  test('is set by the link of a letter, once', async () => {
    const { id, email, on } = await person(1);
    const stranger = browse(bench.app);
    expect((await stranger.post('/forgotten', { email })).status).toBe(200);
    const link = await linkTo(email);
    expect(link).toMatch(/^\/password\//);
    expect((await stranger.get(link)).status).toBe(200);
    expect((await stranger.post(link, { password: 'short' })).status).toBe(422);
    expect((await stranger.post(link, { password: second })).status).toBe(200);
    expect(await isIn(on[0] as Visitor)).toBe(false);
    expect(await isIn(await signedIn(email, second))).toBe(true);
    const again = await stranger.post(link, { password: 'yet another password' });
    expect(again.status).toBe(410);
    expect(await isIn(await signedIn(email, 'yet another password'))).toBe(false);
    expect(await kindsOf(id)).toEqual(expect.arrayContaining(['account.link_made', 'account.link_used']));
    const kept = await bench.service.db.accountLink.findMany({ where: { accountId: id } });
    expect(JSON.stringify(kept)).not.toContain(link.split('/').at(-1));
  });

  test('an older link is worth nothing once a newer one was used', async () => {
    const { email } = await person(0);
    const stranger = browse(bench.app);
    await stranger.post('/forgotten', { email });
    const older = await linkTo(email);
    await stranger.post('/forgotten', { email });
    await expect.poll(() => linkTo(email)).not.toBe(older);
    expect((await stranger.post(await linkTo(email), { password: second })).status).toBe(200);
    expect((await stranger.post(older, { password: first })).status).toBe(410);
  });

  test('the link runs out after an hour', async () => {
    const { email } = await person(0);
    const stranger = browse(bench.app);
    await stranger.post('/forgotten', { email });
    const link = await linkTo(email);
    bench.at(new Date(benchNow.getTime() + 61 * 60_000));
    expect((await stranger.get(link)).status).toBe(410);
    bench.at(benchNow);
  });

  test('an address that nobody has is answered with the same words, and gets no letter', async () => {
    const { email } = await person(0);
    const page = async (address: string) => {
      const { status, body } = await browse(bench.app).post('/forgotten', { email: address });
      return `${status} ${body.replaceAll(address, 'X').replace(/value="[^"]*"/g, '')}`;
    };
    expect(await page('nobody@example.org')).toBe(await page(email));
    await linkTo(email);
    expect(mail.taken.some(({ to }) => to === 'nobody@example.org')).toBe(false);
  });

  test('asking again and again is slowed, for addresses that nobody has too', async () => {
    for (const email of [(await person(0)).email, 'nobody.else@example.org']) {
      const statuses: number[] = [];
      for (let i = 0; i < 6; i++)
        statuses.push((await browse(bench.app).post('/forgotten', { email })).status);
      expect(statuses.slice(0, 5)).toEqual([200, 200, 200, 200, 200]);
      expect(statuses[5]).toBe(429);
    }
  });

  test('somebody who is switched off gets no link, and an earlier one ends', async () => {
    const { id, email } = await person(0);
    const stranger = browse(bench.app);
    await stranger.post('/forgotten', { email });
    const link = await linkTo(email);
    await bench.service.db.account.update({ where: { id }, data: { disabledAt: benchNow } });
    expect((await stranger.post(link, { password: second })).status).toBe(410);
  });
});

describe('a new address', () => {
  test('counts once its own mailbox has confirmed it', async () => {
    const { email, on } = await person(1);
    const [here] = on as [Visitor];
    const fresh = `new.${email}`;
    expect((await here.post('/account/address', { email: fresh, current: first })).status).toBe(303);
    const link = await linkTo(fresh);
    expect(link).toMatch(/^\/address\//);
    expect(await isIn(await signedIn(email, first))).toBe(true);
    // A link that confirms an address sets no password.
    expect((await here.post(link.replace('/address/', '/password/'), { password: second })).status).toBe(410);
    expect((await here.post(link, {})).status).toBe(200);
    expect(await isIn(await signedIn(email, first))).toBe(false);
    expect(await isIn(await signedIn(fresh, first))).toBe(true);
  });

  test('that somebody else has by then is refused in words', async () => {
    const one = await person(1);
    const fresh = `wanted.${one.email}`;
    await one.on[0]?.post('/account/address', { email: fresh, current: first });
    const link = await linkTo(fresh);
    const other = await person(0);
    await bench.service.db.account.update({ where: { id: other.id }, data: { email: fresh } });
    const refused = await one.on[0]?.post(link, {});
    expect(refused?.status).toBe(409);
    expect(refused?.body).toContain('already an account with this address');
  });
});

test('the command on the machine prints a link that works, and names an address that nobody has', async () => {
  const { email } = await person(0);
  const env = { ...process.env, DATABASE_URL: database.url, PUBLIC_URL: 'http://farm.example.org' };
  const ask = (address: string) =>
    promisify(execFile)(process.execPath, ['src/people/password-command.ts', address], { env });
  const { stdout } = await ask(email);
  const link = /http:\/\/farm\.example\.org(\/password\/\S+)/.exec(stdout)?.[1] ?? '';
  bench.at(new Date());
  expect((await browse(bench.app).post(link, { password: second })).status).toBe(200);
  bench.at(benchNow);
  expect(await isIn(await signedIn(email, second))).toBe(true);
  await expect(ask('nobody@example.org')).rejects.toMatchObject({
    stderr: expect.stringContaining('No account has'),
  });
});
