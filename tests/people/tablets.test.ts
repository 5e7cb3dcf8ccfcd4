import { randomUUID } from 'node:crypto';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { type Bench, benchNow, browse, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let owner: Visitor;
let manager: Visitor;
let tomas: string;
let ana: string;
let hall: Hall;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
  manager = await bench.as('manager', 'Lena Roth');
  tomas = await addHand('Tomas Brandt', '8305');
  ana = await addHand('Ana Lind', '9716');
});

afterAll(() => bench.close());

async function addHand(name: string, pin: string): Promise<string> {
  const added = await owner.post('/people', { name, email: '', role: 'hand', password: '', pin });
  expect(added.status, added.body).toBe(303);
  return (await bench.service.db.account.findFirstOrThrow({ where: { name } })).id;
}

const later = (minutes: number) => bench.at(new Date(benchNow.getTime() + minutes * 60_000));

let tablets = 0;

/** A tablet that a manager enrolled, and its id. */
async function enrolled(people: string[], idleMin = 15): Promise<Visitor & { tabletId: string }> {
  tablets += 1;
  const name = `Tablet ${tablets}`;
  const visitor = await bench.as('manager', `Manager ${tablets}`);
  const answer = await visitor.post('/people/tablets', { name, idleMin, people });
  expect(answer.location, answer.body).toBe('/tablet');
  const { id: tabletId } = await bench.service.db.tablet.findFirstOrThrow({ where: { name } });
  return { ...visitor, tabletId };
}

/** Whose name the pages show. */
const atIt = async (visitor: Visitor) =>
  /class="account-name">([^<]*)</.exec((await visitor.get('/water')).body)?.[1] ?? null;

const takeOver = (visitor: Visitor, id: string, pin: string) => visitor.post(`/tablet/${id}`, { pin });

describe('a hand without an e-mail address', () => {
  test('is added with a PIN, which is hashed with argon2id', async () => {
    const { email, passwordHash, pinHash } = await bench.service.db.account.findUniqueOrThrow({
      where: { id: tomas },
    });
    expect([email, passwordHash]).toEqual([null, null]);
    expect(pinHash).toMatch(/^\$argon2id\$/);
  });

  test.each([
    [{ email: '', role: 'hand', password: '', pin: '' }, 'signs in with a PIN. Enter one'],
    [{ email: '', role: 'hand', password: '', pin: '123' }, '4 to 12 digits'],
    [{ email: '', role: 'hand', password: '', pin: '1234' }, 'first thing somebody would try'],
    [{ email: '', role: 'hand', password: '', pin: '7777' }, 'first thing somebody would try'],
    [{ email: '', role: 'manager', password: '', pin: '8305' }, 'Only hands'],
    [{ email: 'a@example.org', role: 'hand', password: '', pin: '' }, 'first password'],
  ])('%o is refused in words', async (fields, words) => {
    const answer = await owner.post('/people', { name: 'Somebody', ...fields });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain(words);
  });

  test('the database itself keeps anybody from standing there without a way in', async () => {
    const without = bench.service.db.account.update({ where: { id: tomas }, data: { pinHash: null } });
    await expect(without).rejects.toThrow();
    const grown = bench.service.db.account.update({ where: { id: tomas }, data: { role: 'owner' } });
    await expect(grown).rejects.toThrow();
  });
});

describe('on an enrolled tablet', () => {
  test('the manager is signed out, the names are shown, and a PIN signs its person in', async () => {
    const tablet = await enrolled([tomas, ana]);
    expect((await tablet.get('/water')).location).toBe('/tablet?to=%2Fwater');
    const names = await tablet.get('/tablet');
    expect(names.body).toContain('Tomas Brandt');
    expect(names.body).toContain('Ana Lind');
    expect((await takeOver(tablet, tomas, '8305')).location).toBe('/');
    expect(await atIt(tablet)).toBe('Tomas Brandt');
  });

  test('the next person takes over in one step, and the last one is signed out', async () => {
    const tablet = await enrolled([tomas, ana]);
    await takeOver(tablet, tomas, '8305');
    expect((await takeOver(tablet, ana, '9716')).status).toBe(303);
    expect(await atIt(tablet)).toBe('Ana Lind');
    const sessions = await bench.service.db.session.findMany();
    const here = sessions.filter(
      ({ data }) => (data as { tablet?: { id: string } }).tablet?.id === tablet.tabletId,
    );
    expect(here.map(({ accountId }) => accountId)).toEqual([ana]);
  });

  test('a session ends by itself after the idle time, and lasts while it is used', async () => {
    const tablet = await enrolled([tomas], 10);
    await takeOver(tablet, tomas, '8305');
    for (const minutes of [8, 16, 24]) {
      later(minutes);
      expect(await atIt(tablet)).toBe('Tomas Brandt');
    }
    later(35);
    expect((await tablet.get('/water')).location).toBe('/tablet?to=%2Fwater');
    bench.at(benchNow);
  });

  test('somebody who is not on its list cannot come in, with the right PIN neither', async () => {
    const tablet = await enrolled([tomas]);
    expect((await takeOver(tablet, ana, '9716')).status).toBe(403);
    expect(await atIt(tablet)).toBeNull();
  });

  test('removing it signs out whoever is at it, and it opens nothing from then on', async () => {
    const tablet = await enrolled([tomas]);
    await takeOver(tablet, tomas, '8305');
    expect((await manager.post(`/people/tablets/${tablet.tabletId}/end`, {})).status).toBe(303);
    expect(await atIt(tablet)).toBeNull();
    expect((await takeOver(tablet, tomas, '8305')).status).toBe(403);
  });

  test('a new PIN, or being switched off, signs the person out there', async () => {
    const id = await addHand('Emil Sand', '4617');
    const tablet = await enrolled([id]);
    await takeOver(tablet, id, '4617');
    const { version } = await bench.service.db.account.findUniqueOrThrow({ where: { id } });
    const edit = { name: 'Emil Sand', role: 'hand', password: '', version };
    expect((await owner.post(`/people/${id}`, { ...edit, pin: '5528' })).status).toBe(303);
    expect(await atIt(tablet)).toBeNull();
    expect((await takeOver(tablet, id, '4617')).status).toBe(422);
    expect((await takeOver(tablet, id, '5528')).status).toBe(303);
    const off = { ...edit, version: version + 1, pin: '', disabled: 'yes' };
    expect((await owner.post(`/people/${id}`, off)).status).toBe(303);
    expect(await atIt(tablet)).toBeNull();
    expect((await takeOver(tablet, id, '5528')).status).toBe(403);
  });

  test('what is done there is signed by its person, and the journal tells who came and went', async () => {
    const tablet = await enrolled([tomas]);
    await takeOver(tablet, tomas, '0000');
    await takeOver(tablet, tomas, '8305');
    const lines = await bench.service.db.journalLine.findMany({
      where: { subjectId: tomas },
      orderBy: { id: 'asc' },
    });
    expect(lines.map(({ kind }) => kind)).toEqual(expect.arrayContaining(['sign_in.failed', 'sign_in.made']));
    // Any four digits may stand in an id, so what a line says of itself is looked at alone.
    expect(JSON.stringify(lines.map(({ detail }) => detail))).not.toContain('8305');
    const page = await owner.get(`/journal?subject=${tablet.tabletId}`);
    expect(page.body).toContain('Tablet enrolled');
  });
});

describe('a PIN alone', () => {
  test('opens nothing on another device', async () => {
    const stranger = browse(bench.app);
    await stranger.get('/sign-in');
    expect((await stranger.get('/tablet')).status).toBe(403);
    expect((await takeOver(stranger, tomas, '8305')).status).toBe(403);
    expect(await atIt(stranger)).toBeNull();
  });

  test('is slowed per tablet and person: neither others here nor the person elsewhere', async () => {
    const tablet = await enrolled([tomas, ana]);
    const elsewhere = await enrolled([tomas]);
    const statuses: number[] = [];
    for (let i = 0; i < 6; i++) statuses.push((await takeOver(tablet, tomas, `000${i}`)).status);
    expect(statuses).toEqual([422, 422, 422, 422, 429, 429]);
    expect((await takeOver(tablet, tomas, '8305')).status).toBe(429);
    expect((await takeOver(tablet, ana, '9716')).status).toBe(303);
    expect((await takeOver(elsewhere, tomas, '8305')).status).toBe(303);
  });

  test('each further wrong one costs twice the wait of the last, up to an hour', async () => {
    const tablet = await enrolled([tomas]);
    let minutes = 0;
    let tries = 0;
    for (; minutes < 24 * 60; minutes += 5) {
      later(minutes);
      while ((await takeOver(tablet, tomas, '0000')).status === 422) tries += 1;
    }
    bench.at(benchNow);
    // 10,000 PINs at so few tries a day.
    expect(tries).toBeLessThan(45);
    expect(tries).toBeGreaterThan(20);
  });
});

describe('what was noted on a shared tablet without a network', () => {
  const looked = (by: string, at: string, more: object = {}) => ({
    ...{ id: randomUUID(), kind: 'condition', at, label: 'A1', notedBy: by },
    ...{ lotId: hall.lots.A1.id, rackId: hall.window, state: 'paling', grade: 2, ...more },
  });
  const newRound = async () => begin(bench, hall, await planRound(bench, hall), '2026-11-24');
  const at = '2026-11-24T07:30:00Z';
  const account = (id: string) => bench.service.db.account.findUniqueOrThrow({ where: { id } });

  test('stays its author’s when somebody else has taken over before it is sent', async () => {
    const round = await newRound();
    const tablet = await enrolled([tomas, ana]);
    await takeOver(tablet, tomas, '8305');
    const entry = looked(tomas, at, { note: 'white tips' });
    const refused = looked(tomas, at, { state: 'no such state' });
    await takeOver(tablet, ana, '9716');
    const own = looked(ana, '2026-11-24T07:40:00Z');
    const sent = await tablet.send(`/api/rounds/${round}/entries`, [entry, refused, own]);
    expect(sent.json()).toMatchObject({
      entries: [{ outcome: 'taken' }, { outcome: 'refused', held: true }, { outcome: 'taken' }],
    });
    const { db } = bench.service;
    const entries = await db.roundEntry.findMany({ where: { roundId: round } });
    const authors = Object.fromEntries(entries.map((one) => [one.id, one.accountId]));
    expect(authors).toEqual({ [entry.id]: tomas, [refused.id]: tomas, [own.id]: ana });
    expect(entries.find(({ id }) => id === entry.id)?.detail).toMatchObject({ sentBy: ana });
    const conditions = await db.condition.findMany({ orderBy: { at: 'asc' } });
    expect(conditions.map(({ accountId }) => accountId)).toEqual([tomas, ana]);
    const lines = await db.journalLine.findMany({
      where: { kind: 'condition.noted' },
      orderBy: { id: 'asc' },
    });
    expect(lines.map(({ accountId }) => accountId)).toEqual([tomas, ana]);
    // Sent again by whoever: it is there, and stays as it is.
    await takeOver(tablet, tomas, '8305');
    const again = await tablet.send(`/api/rounds/${round}/entries`, [entry, own]);
    expect(again.json()).toMatchObject({ entries: [{ outcome: 'there' }, { outcome: 'there' }] });
    expect(await db.condition.count()).toBe(2);
  });

  test('and so does a photo', async () => {
    const tablet = await enrolled([tomas, ana]);
    await takeOver(tablet, ana, '9716');
    const picture = await sharp({ create: { width: 8, height: 8, channels: 3, background: 'red' } })
      .jpeg()
      .toBuffer();
    const where = new URLSearchParams({ lotId: hall.lots.A1.id, takenAt: at, notedBy: tomas });
    const id = randomUUID();
    const sent = await tablet.put(`/api/photos/${id}?${where}`, picture, { 'content-type': 'image/jpeg' });
    expect(sent.status, sent.body).toBe(200);
    expect((await bench.service.db.photo.findUniqueOrThrow({ where: { id } })).accountId).toBe(tomas);
  });

  test('is nobody’s but the sender’s on a device that is not shared, with the name of who noted it', async () => {
    const round = await newRound();
    const entry = looked(tomas, at);
    await manager.send(`/api/rounds/${round}/entries`, [entry]);
    const kept = await bench.service.db.roundEntry.findUniqueOrThrow({ where: { id: entry.id } });
    expect(kept.accountId).toBe(manager.id);
    expect(kept.detail).toMatchObject({ notedBy: (await account(tomas)).name });
  });

  test('waits on a tablet that was removed until somebody signs in there, and is lost by neither', async () => {
    const round = await newRound();
    const tablet = await enrolled([tomas]);
    await takeOver(tablet, tomas, '8305');
    const entry = looked(tomas, at);
    expect((await manager.post(`/people/tablets/${tablet.tabletId}/end`, {})).status).toBe(303);
    // The tablet holds what is answered so, and asks to sign in.
    const json = { accept: 'application/json' };
    expect((await tablet.get(`/api/rounds/${round}`, json)).status).toBe(401);
    expect(await bench.service.db.roundEntry.count({ where: { roundId: round } })).toBe(0);
    // A manager signs in on it by address and password, and it is sent.
    const again = await enrolledAgain(tablet);
    const sent = await again.send(`/api/rounds/${round}/entries`, [entry]);
    expect(sent.json()).toMatchObject({ entries: [{ outcome: 'taken' }] });
    const kept = await bench.service.db.roundEntry.findUniqueOrThrow({ where: { id: entry.id } });
    expect(kept.detail).toMatchObject({ notedBy: (await account(tomas)).name });
  });

  /** The same device with its cookies, signed in by address and password. */
  async function enrolledAgain(device: Visitor): Promise<Visitor> {
    const { email } = await account(manager.id);
    await device.get('/sign-in');
    const answer = await device.post('/sign-in', { email, password: 'a long enough password' });
    expect(answer.status, answer.body).toBe(303);
    return device;
  }
});
