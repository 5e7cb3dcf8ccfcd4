import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { secretFields } from '../../src/platform/web/kept-forms.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { fieldsOf } from '../support/forms.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

const password = 'a long enough password';

let bench: Bench;
let hall: Hall;
let owner: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
});

afterAll(() => bench.close());

const endSessions = () => bench.service.db.session.deleteMany();
const emailOf = async ({ id }: Visitor) =>
  (await bench.service.db.account.findUniqueOrThrow({ where: { id } })).email ?? '';
const tokenIn = (page: string) => /name="_csrf" value="([^"]+)"/.exec(page)?.[1] ?? '';

/** Signs in where the service led to. */
const signIn = async (visitor: Visitor, led: string, email: string, typed = password) =>
  visitor.post('/sign-in', {
    email,
    password: typed,
    to: new URL(led, 'http://here').searchParams.get('to') ?? '',
  });

const looks = () => `/lots/${hall.lots.A1.id}/conditions`;

/** Somebody who types how a lot looks, and whose session ends before it is sent. */
async function typedTooLate(visitor: Visitor, typed: Record<string, string>) {
  const page = await visitor.get(`/stock/${hall.lots.A1.code}/condition`);
  expect(page.status, page.body).toBe(200);
  const fields = { ...fieldsOf(page.body, looks()), _csrf: tokenIn(page.body) };
  await endSessions();
  return visitor.post(looks(), { ...fields, ...typed });
}

describe('a form whose sign-in ran out', () => {
  test('comes back as typed after signing in, and is saved only when it is sent again', async () => {
    const hand = await bench.as('hand', 'Odo Brandt');
    const before = await bench.service.db.condition.count();
    const sent = await typedTooLate(hand, { state: 'paling', note: 'Pale at the rim "west"' });
    expect(sent.status).toBe(303);
    expect((await hand.get(sent.location ?? '')).body).toContain('What you typed is kept for an hour');

    const signedIn = await signIn(hand, sent.location ?? '', await emailOf(hand));
    expect(signedIn.location).toMatch(/^\/kept\//);
    const again = await hand.get(signedIn.location ?? '');
    expect(again.body).toContain('You are signed in again. Look through what you typed before');
    const fields = fieldsOf(again.body, looks());
    expect(fields).toMatchObject({ state: ['paling'], note: ['Pale at the rim "west"'] });
    expect(await bench.service.db.condition.count()).toBe(before);

    const saved = await hand.post(looks(), { ...fields, _csrf: tokenIn(again.body) });
    expect(saved.status, saved.body).toBe(303);
    expect(await bench.service.db.condition.count()).toBe(before + 1);
  });

  test('is not shown to somebody else who signs in on the same browser', async () => {
    const hand = await bench.as('hand', 'Odo Brandt');
    const other = await bench.as('hand', 'Ana Lind');
    const sent = await typedTooLate(hand, { state: 'paling', note: 'For nobody else' });
    const signedIn = await signIn(hand, sent.location ?? '', await emailOf(other));
    const shown = await hand.get(signedIn.location ?? '');
    expect(shown.location).toBe('/');
    expect(shown.body).not.toContain('For nobody else');
  });

  test('is not shown in another browser, nor after an hour, and cannot be read in the database', async () => {
    const hand = await bench.as('hand', 'Odo Brandt');
    const sent = await typedTooLate(hand, { state: 'paling', note: 'A note like no other' });
    const to = new URL(sent.location ?? '', 'http://here').searchParams.get('to') ?? '';
    const rows = await bench.service.db.keptForm.findMany();
    for (const { sealed } of rows)
      expect(Buffer.from(sealed).toString('latin1')).not.toContain('A note like no other');
    expect((await (await bench.as('owner')).get(to)).location).toBe('/');
    await signIn(hand, sent.location ?? '', await emailOf(hand));
    bench.at(new Date(benchNow.getTime() + 61 * 60_000));
    expect((await hand.get(to)).location).toBe('/');
    bench.at(benchNow);
  });

  test('is refused as before where its fields are wrong', async () => {
    const hand = await bench.as('hand', 'Odo Brandt');
    const sent = await typedTooLate(hand, { state: '', note: 'No state chosen' });
    const signedIn = await signIn(hand, sent.location ?? '', await emailOf(hand));
    expect((await hand.get(signedIn.location ?? '')).body).toContain('No state chosen');
  });
});

describe('what is not kept', () => {
  test('a form with a password', async () => {
    const before = await bench.service.db.keptForm.count();
    const page = await owner.get('/people');
    const email = await emailOf(owner);
    await endSessions();
    const form = { _csrf: tokenIn(page.body), name: 'New', email: 'n@example.org', role: 'hand', password };
    const sent = await owner.post('/people', form);
    expect((await owner.get(sent.location ?? '')).body).toContain('a password or a PIN is not kept');
    expect(await bench.service.db.keptForm.count()).toBe(before);
    await signIn(owner, sent.location ?? '', email);
  });

  test('every field of the pages that hides what is typed is known as a secret', () => {
    const names = readdirSync('views', { recursive: true, encoding: 'utf8' })
      .filter((name) => name.endsWith('.hbs'))
      .flatMap((name) => readFileSync(join('views', name), 'utf8').split('\n'))
      .filter((line) => line.includes('type="password"'))
      .map((line) => /name="([^"]+)"/.exec(line)?.[1]);
    expect(names.length).toBeGreaterThan(5);
    expect(new Set(names)).toEqual(new Set(secretFields));
  });

  test('a button pressed leads back to the page it stood on, and nothing is done', async () => {
    const manager = await bench.as('manager', 'Lena Roth');
    const page = await manager.get('/stock');
    const email = await emailOf(manager);
    await endSessions();
    const sent = await manager.post('/holds/00000000-0000-7000-8000-000000000000/release', {
      _csrf: tokenIn(page.body),
    });
    const signedIn = await signIn(manager, sent.location ?? '', email);
    const led = await manager.get(signedIn.location ?? '');
    expect([led.status, led.location]).toEqual([303, '/stock/ready']);
    expect((await manager.get('/stock/ready')).body).toContain('was not saved');
  });

  test('more than a network may send is no longer kept', async () => {
    const hand = await bench.as('hand', 'Odo Brandt');
    const page = await hand.get(`/stock/${hall.lots.A1.code}/condition`);
    const form = { ...fieldsOf(page.body, looks()), _csrf: tokenIn(page.body) };
    await endSessions();
    const before = await bench.service.db.keptForm.count();
    const ends = new Set<string | undefined>();
    for (let i = 0; i < 62; i++) {
      const { location = '' } = await hand.post(looks(), form);
      ends.add(/kept=(\w+)/.exec(location)?.[1]);
    }
    expect(ends).toEqual(new Set(['form', 'nothing']));
    expect((await bench.service.db.keptForm.count()) - before).toBe(60);
  });
});

describe('on a tablet with PINs', () => {
  test('the form comes back to its person after the PIN, not to the next one', async () => {
    const boss = await bench.as('owner', 'Ines Varga');
    const add = async (name: string, pin: string) => {
      await boss.post('/people', { name, email: '', role: 'hand', password: '', pin });
      return (await bench.service.db.account.findFirstOrThrow({ where: { name } })).id;
    };
    const people = [await add('Tomas Brandt', '8305'), await add('Mia Lund', '9716')];
    const tablet = await bench.as('manager', 'Manager at the tablet');
    await tablet.post('/people/tablets', { name: 'Hall', idleMin: 15, people });
    const come = (to: string, n: number, pin: string) => tablet.post(`/tablet/${people[n]}`, { pin, to });
    await come('', 0, '8305');
    const page = await tablet.get(`/stock/${hall.lots.A1.code}/condition`);
    const fields = { ...fieldsOf(page.body, looks()), _csrf: tokenIn(page.body) };
    bench.at(new Date(benchNow.getTime() + 20 * 60_000));
    const sent = await tablet.post(looks(), { ...fields, state: 'paling', note: 'Seen at the west end' });
    expect(sent.location).toMatch(/^\/tablet\?to=/);
    const names = await tablet.get(sent.location ?? '');
    expect(names.body).toContain('What you typed is kept for an hour');
    const to = new URL(sent.location ?? '', 'http://here').searchParams.get('to') ?? '';
    expect(names.body).toContain(`/tablet/${people[0]}?to&#x3D;`);

    expect((await tablet.get((await come(to, 1, '9716')).location ?? '')).location).toBe('/');
    const back = await tablet.get((await come(to, 0, '8305')).location ?? '');
    expect(fieldsOf(back.body, looks())).toMatchObject({ note: ['Seen at the west end'] });
    bench.at(benchNow);
  });
});
