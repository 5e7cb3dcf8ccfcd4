import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { makeDigest } from '../../src/digest/digests.ts';
import { sendCall } from '../../src/emergencies/running/call-letters.ts';
import { nextCallAt } from '../../src/emergencies/running/calls.rules.ts';
import { callWhereSilent } from '../../src/emergencies/running/calls.ts';
import { entriesOf } from '../../src/emergencies/running/list.ts';
import { looksToTake } from '../../src/emergencies/running/progress.rules.ts';
import { doTask, tasksDue } from '../../src/rounds/tasks/tasks.ts';
import { evaluateDueBack } from '../../src/watch/evaluation/due-back.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { type MailServer, startMailServer } from '../support/smtp.ts';

// A power cut in a hall at 02:00. Three people are on call; nobody answers. Times and names made up.

let bench: Bench;
let hand: Visitor;
let mail: MailServer;
let siteId: string;
let hall: string;
let address: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  mail = await startMailServer();
  const { db } = bench.service;
  siteId = (await db.site.create({ data: { name: 'Saltgate', timeZone: 'UTC' } })).id;
  const system = { siteId, volumeL: 1000, name: 'North hall' };
  hall = (await db.system.create({ data: system })).id;
  const size = { lengthMm: 2000, widthMm: 1000, heightMm: 500 };
  await db.tank.create({ data: { systemId: hall, name: 'Tank 1', ...size } });
  hand = await bench.as('hand', 'Nor Abell');
});
afterAll(async () => {
  await mail?.close();
  await bench?.close();
});

const at = (clock: string) => bench.at(new Date(`2026-11-24T${clock}:00Z`));
const minutePasses = () => callWhereSilent(bench.service, bench.service.now());
const page = async () => (await hand.get(address)).body;
const note = (fields: Record<string, string>) => hand.post(`${address}/entries`, fields);
const called = async () =>
  (await bench.service.db.emergencyEntry.findMany({ where: { kind: 'called' }, orderBy: { at: 'asc' } })).map(
    ({ text }) => text,
  );

describe('nobody on call', () => {
  beforeEach(() => at('02:00'));

  test('is said on the page, and nobody is called', async () => {
    address = (await hand.post('/emergencies', { event: 'power', systems: hall })).location ?? '';
    expect(await page()).toContain('Nobody is on call.');
    await note({ kind: 'look', minutes: '15' });
    at('03:00');
    await minutePasses();
    expect(await called()).toEqual([]);
    expect((await hand.get('/farm/contacts')).body).toContain('Nobody is on call.');
    await hand.post(`${address}/end`, { ending: 'A trial', withoutLook: 'yes' });
    const { db } = bench.service;
    expect(
      await db.look.updateMany({ data: { doneAt: bench.service.now() }, where: { doneAt: null } }),
    ).toEqual({
      count: 2,
    });
  });
});

describe('a look that is ticked off elsewhere than on its page', () => {
  test('is taken everywhere: on the page, in the bar and for the calls; another one is asked for anew', async () => {
    at('04:00');
    const { db } = bench.service;
    address = (await hand.post('/emergencies', { event: 'power', systems: hall })).location ?? '';
    const emergencyId = address.split('/').at(-1) ?? '';
    await note({ kind: 'look', minutes: '15' });
    at('04:20');
    expect(await page()).toContain('data-looks="[[');
    const key = `emergency:${emergencyId}`;
    const look = await db.look.findFirstOrThrow({ where: { key } });
    await bench.change((work) =>
      doTask(work, `look:${look.id}`, { at: work.now, amount: null, note: 'calm' }),
    );
    // The bar of all pages reads the row, the page the entries: both say that nothing is due.
    expect(looksToTake(await entriesOf(bench.service.pool, emergencyId))).toEqual([]);
    expect(await page()).toContain('calm');
    const due = nextCallAt(
      await entriesOf(bench.service.pool, emergencyId),
      5,
      new Date('2026-11-24T04:00:00Z'),
    );
    expect(due).toBeNull();
    at('04:25');
    await note({ kind: 'look', minutes: '30' });
    expect((await db.look.findFirstOrThrow({ where: { key } })).doneAt).toBeNull();
    const entries = await entriesOf(bench.service.pool, emergencyId);
    expect(entries.filter(({ kind }) => kind === 'looked')).toHaveLength(1);
    expect(looksToTake(entries)).toEqual([['', new Date('2026-11-24T04:55:00Z')]]);
    await note({ kind: 'looked' });
    expect(await db.emergencyEntry.count({ where: { emergencyId, kind: 'looked' } })).toBe(2);
    await hand.post(`${address}/end`, { ending: 'A trial', withoutLook: 'yes' });
    await db.look.updateMany({ data: { doneAt: bench.service.now() }, where: { doneAt: null } });
  });
});

describe('three on call', () => {
  beforeAll(async () => {
    const { db } = bench.service;
    const people = [
      ['Ines Lume', 'ines@farm.example', 1],
      ['Bo Tarn', '', 2],
      ['Sefa Roe', 'sefa@farm.example', 3],
    ] as const;
    for (const [name, email, onCall] of people)
      await db.contact.create({
        data: { siteId, role: 'key_holder', name, email, onCall, number: '+351 21 000 00 00' },
      });
  });

  test('the first is called five minutes after a look that nobody took, the next after five more, then all', async () => {
    at('02:00');
    address = (await hand.post('/emergencies', { event: 'power', systems: hall })).location ?? '';
    await note({ kind: 'done', step: 'measure' });
    // 30 minutes are usual; oxygen that can be gone in 1.4 h leaves them as they are.
    expect(await page()).toMatch(
      /If nobody answers by <time datetime="2026-11-24T02:35:00Z">02:35<\/time>, call Ines Lume yourself. This service sends nothing: no mail server is set./,
    );
    at('02:34');
    await minutePasses();
    expect(await called()).toEqual([]);
    at('02:35');
    await minutePasses();
    await minutePasses();
    expect(await called()).toEqual(['Ines Lume']);
    expect(await page()).toMatch(
      /Not answered<\/span> Ines Lume, whose turn it is since .*Nothing was sent: call now./,
    );
    at('02:40');
    await minutePasses();
    at('02:45');
    await minutePasses();
    expect(await called()).toEqual(['Ines Lume', 'Bo Tarn', 'Sefa Roe']);
    at('02:50');
    await minutePasses();
    at('03:50');
    await minutePasses();
    expect(await called()).toEqual(['Ines Lume', 'Bo Tarn', 'Sefa Roe', 'everybody on call']);
  });

  test('a letter goes to whom the list has an address of, with the page to answer on', async () => {
    const mailing = { ...bench.service, config: { ...bench.service.config, SMTP_URL: mail.url } };
    const calls = await bench.service.db.emergencyEntry.findMany({
      where: { kind: 'called' },
      orderBy: { at: 'asc' },
    });
    for (const { id } of calls) await sendCall(mailing, id);
    // The second has no address; the last goes to everybody who has one.
    expect(mail.taken.map(({ to }) => to)).toEqual([
      'ines@farm.example',
      'sefa@farm.example',
      'ines@farm.example',
      'sefa@farm.example',
    ]);
    const [first] = mail.taken;
    expect(first?.mail.subject).toBe('Wrong now: The power is out, or the pumps stand still (North hall)');
    expect(first?.mail.text).toContain(address);
  });

  test('the look that nobody took is an alert that says to go now, beside what is wrong in its water', async () => {
    at('03:50');
    await evaluateDueBack(bench.service, bench.service.now());
    const alert = await bench.service.db.alert.findFirstOrThrow({
      where: { rule: 'look-overdue', clearedAt: null },
    });
    expect(alert).toMatchObject({ severity: 'now', systemId: hall });
    expect(alert.title).toContain('North hall: nobody has looked yet');
    const part = `Wrong now in this water: <a href="${address}">The power is out`;
    expect((await hand.get('/watch')).body).toContain(part);
    expect((await hand.get(`/watch/${alert.id}`)).body).toContain(part);
    const digestAt = bench.service.now();
    await makeDigest(bench.service, siteId, digestAt, digestAt);
    expect((await hand.get('/digest')).body).toContain(
      'Nobody has answered. Whose turn it was: Ines Lume, Bo Tarn, Sefa Roe, everybody on call.',
    );
  });

  test('whoever takes it ends the calling; a look taken clears the alert', async () => {
    at('03:52');
    await note({ kind: 'taken' });
    expect(await page()).toContain('<strong>Nor Abell</strong> has it since');
    await note({ kind: 'looked' });
    await evaluateSystems(bench.service, [hall], bench.service.now());
    expect(await bench.service.db.alert.count({ where: { rule: 'look-overdue', clearedAt: null } })).toBe(0);
    at('05:00');
    await minutePasses();
    expect(await called()).toHaveLength(4);
  });

  test('who is called by hand and does not take it is followed by the next', async () => {
    at('05:00');
    const bo = await bench.service.db.contact.findFirstOrThrow({ where: { name: 'Bo Tarn' } });
    expect((await note({ kind: 'called' })).status).toBe(422);
    await note({ kind: 'called', contactId: bo.id });
    at('05:05');
    await minutePasses();
    expect((await called()).at(-1)).toBe('Ines Lume');
    await note({ kind: 'taken', contactId: bo.id });
    expect(await page()).toContain('<strong>Bo Tarn</strong> has it since');
  });

  test('when it is over, a look an hour later and one on the next morning are due work, ticked off once', async () => {
    at('06:00');
    await hand.post(`${address}/end`, { ending: 'A fuse in the street', withoutLook: 'yes' });
    const dueNow = async () =>
      (await tasksDue(bench.service.pool, [hall], bench.service.now())).filter(
        ({ href }) => href === address,
      );
    const due = await dueNow();
    expect(due.map(({ title }) => title)).toEqual([
      'An hour after: the power is out, or the pumps stand still, at 07:00',
    ]);
    at('07:30');
    await evaluateDueBack(bench.service, bench.service.now());
    expect(
      await bench.service.db.alert.findFirst({
        where: { rule: 'look-overdue', clearedAt: null },
        orderBy: { openedAt: 'desc' },
      }),
    ).toMatchObject({ severity: 'today' });
    bench.at(new Date('2026-11-25T07:30:00Z'));
    const next = await dueNow();
    expect(next.map(({ title, overdueDays }) => `${title} ${overdueDays}`)).toEqual([
      'An hour after: the power is out, or the pumps stand still, at 07:00 1',
      'The morning after: the power is out, or the pumps stand still, at 08:00 0',
    ]);
  });
});

test('crowded water is looked at sooner than its step says, and the page says why', async () => {
  at('08:00');
  const { db } = bench.service;
  const small = await db.system.create({ data: { siteId, name: 'Nursery', volumeL: 100 } });
  await db.tank.create({
    data: { systemId: small.id, name: 'Box', lengthMm: 500, widthMm: 400, heightMm: 500 },
  });
  await db.reading.create({
    data: {
      ...{ systemId: small.id, quantityCode: 'oxygen', value: 4.6, at: new Date('2026-11-24T07:55:00Z') },
      ...{ uncertainty: 0.2, enteredText: '4.6', enteredUnit: 'mg/L' },
    },
  });
  address = (await hand.post('/emergencies', { event: 'power', systems: small.id })).location ?? '';
  // 0.6 mg/L above 4 at 2 mg/L/h are 0.3 h; half of that is 9 minutes.
  expect(await page()).toContain(
    'Sooner than the usual 30 min: oxygen in Nursery can be down to 4 mg/L in 0.3 h.',
  );
  await note({ kind: 'done', step: 'measure' });
  const { dueAt } = await db.emergencyEntry.findFirstOrThrow({
    where: { step: 'measure' },
    orderBy: { at: 'desc' },
  });
  const minutes = ((dueAt?.getTime() ?? 0) - bench.service.now().getTime()) / 60_000;
  expect(minutes).toBeGreaterThanOrEqual(8);
  expect(minutes).toBeLessThanOrEqual(10);
});

describe('nobody on call, and nobody ticks anything', () => {
  test('the managers get a letter, once', async () => {
    const { db, config } = bench.service;
    const manager = await bench.as('manager', 'Ama Selk');
    const mailing = { ...bench.service, config: { ...config, SMTP_URL: mail.url } };
    await db.contact.updateMany({ data: { onCall: null } });
    mail.taken.splice(0);
    at('12:00');
    address = (await hand.post('/emergencies', { event: 'power', systems: hall })).location ?? '';
    const emergencyId = address.split('/').at(-1) ?? '';
    const own = () => db.emergencyEntry.findMany({ where: { kind: 'called', emergencyId } });
    const since = async () => (await own()).map(({ text }) => text);
    const minute = () => callWhereSilent(mailing, bench.service.now());
    at('12:14');
    await minute();
    expect(await since()).toEqual([]);
    at('12:15');
    await minute();
    at('12:40');
    await minute();
    expect(await since()).toEqual(['the managers']);
    const [entry] = await own();
    await sendCall(mailing, entry?.id ?? '');
    const sent = mail.taken.splice(0);
    const written = await db.account.findMany({ where: { role: { in: ['manager', 'owner'] } } });
    expect(sent.map(({ to }) => to).sort()).toEqual(written.map(({ email }) => email).sort());
    expect(sent[0]?.mail.text).toContain(address);
    expect((await manager.get(address)).body).toMatch(
      /Not answered<\/span> the managers, whose turn it is since/,
    );
    await hand.post(`${address}/end`, { ending: 'A trial', withoutLook: 'yes' });
  });
});
