import sharp from 'sharp';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { makeDueDigests } from '../../src/digest/digests.ts';
import { nextTry } from '../../src/digest/letters.rules.ts';
import { sendLetters, writeLetters } from '../../src/digest/letters.ts';
import { addReceiver } from '../../src/digest/receivers.ts';
import type { Service } from '../../src/platform/service.ts';
import { type Bench, browse, startBench } from '../support/service.ts';
import { type MailServer, startMailServer } from '../support/smtp.ts';

let bench: Bench;
let post: MailServer;
let siteId: string;
let otherId: string;

beforeAll(async () => {
  [bench, post] = await Promise.all([startBench({ watching: false }), startMailServer()]);
  const { db } = bench.service;
  const site = { timeZone: 'Europe/Lisbon', digestAt: '06:30' };
  siteId = (await db.site.create({ data: { name: 'Saltgate Yard', ...site } })).id;
  otherId = (await db.site.create({ data: { name: 'Outer Quay', ...site } })).id;
  const system = await db.system.create({ data: { siteId, name: 'Long run', volumeL: 1840 } });
  const reading = (day: number) => ({
    systemId: system.id,
    quantityCode: 'alkalinity',
    at: new Date(Date.UTC(2026, 10, day, 8)),
    value: 2.9 + 0.02 * (day % 3),
    uncertainty: 0.05,
    enteredText: '8.2',
    enteredUnit: 'dKH',
  });
  await db.reading.createMany({ data: [18, 19, 20, 21, 22, 23].map(reading) });
});
afterAll(() => Promise.all([bench.close(), post.close()]));

beforeEach(async () => {
  const { db } = bench.service;
  await db.letter.deleteMany();
  await db.digest.deleteMany();
  await db.digestReceiver.deleteMany();
});
afterEach(() => {
  post.taken.length = 0;
  post.refuseWith(null);
});

const mailing = (): Service => ({
  ...bench.service,
  config: { ...bench.service.config, SMTP_URL: post.url, MAIL_FROM: 'Saltgate Yard <water@example.org>' },
});
const receiver = (email: string, siteIds = [siteId], name = 'Ana Reis') => {
  bench.at('2026-11-01T00:00:00Z');
  return bench.change(async (work) => {
    let added = { id: '' };
    for (const site of siteIds) added = await addReceiver(work, { name, email, siteId: site });
    return added;
  });
};
const morning = async (service: Service, at: string) => {
  const now = new Date(at);
  await makeDueDigests(service, now);
  await writeLetters(service, now);
  await sendLetters(service, now);
};

describe('a digest by mail', () => {
  test('has a text part, html with styles inlined, pictures as PNG with text alternatives, and a list’s headers', async () => {
    await receiver('ana@example.org');
    await morning(mailing(), '2026-11-24T06:31:00Z');
    expect(post.taken.map(({ to }) => to)).toEqual(['ana@example.org']);
    const [{ mail, raw: folded } = { mail: null, raw: '' }] = post.taken;
    const raw = folded.replace(/\r\n[ \t]+/g, ' ');
    expect(mail?.subject).toBe('Saltgate Yard: The farm is still to be set up');
    expect(mail?.text).toContain('Long run: quiet');
    expect(String(mail?.html)).toMatch(/<h1[^>]* style="[^"]*font-size: 24px/);
    expect(String(mail?.html)).toContain('alt="Alkalinity of Long run over the last 30 days"');
    expect(raw).toMatch(/^List-ID: "?Morning digest of Saltgate Yard"? <digest\./im);
    expect(raw).toMatch(/^List-Unsubscribe: <http.*\/end>/im);
    expect(raw).toMatch(/^List-Unsubscribe-Post: List-Unsubscribe=One-Click/im);
    expect(raw).toMatch(/^Auto-Submitted: auto-generated/im);
    const [picture] = mail?.attachments ?? [];
    expect(picture?.contentType).toBe('image/png');
    expect(await sharp(picture?.content).metadata()).toMatchObject({ width: 400, height: 96 });
    expect(String(mail?.html)).not.toContain('var(--');
  });

  test('goes once to each receiver of that site, however many instances send', async () => {
    await receiver('ana@example.org');
    await receiver('rui@example.org', [siteId, otherId], 'Rui Sousa');
    await receiver('eva@example.org', [otherId], 'Eva Moura');
    const [one, two] = [mailing(), mailing()];
    await Promise.all([morning(one, '2026-11-24T06:31:00Z'), morning(two, '2026-11-24T06:31:00Z')]);
    await morning(one, '2026-11-24T06:32:00Z');
    const sent = post.taken.map(({ to, mail }) => `${to} ${mail.subject?.split(':')[0]}`).sort();
    expect(sent).toEqual([
      'ana@example.org Saltgate Yard',
      'eva@example.org Outer Quay',
      'rui@example.org Outer Quay',
      'rui@example.org Saltgate Yard',
    ]);
    expect(new Set(post.taken.map(({ mail }) => mail.messageId)).size).toBe(4);
  });

  // Lisbon: clocks go forward on 29 March 2026 at 01:00 UTC and back on 25 October 2026 at 01:00 UTC (IANA tz database).
  test.each([
    ['2026-03-28T06:30:00Z', '2026-03-29T05:30:00Z'],
    ['2026-10-24T05:30:00Z', '2026-10-25T06:30:00Z'],
  ])('comes once each morning across a change of clocks: %s, %s', async (before, after) => {
    bench.at('2026-01-01T00:00:00Z');
    await bench.change((work) => addReceiver(work, { name: 'Ana', email: 'ana@example.org', siteId }));
    const service = mailing();
    for (const due of [before, after]) {
      await morning(service, new Date(Date.parse(due) - 60_000).toISOString());
      await morning(service, due);
      await morning(service, new Date(Date.parse(due) + 3_600_000).toISOString());
    }
    const days = post.taken.map(({ mail }) => mail.date?.toISOString().slice(0, 10));
    expect(days).toEqual([before.slice(0, 10), after.slice(0, 10)]);
  });

  test('is tried again when the server is away, and the page says so', async () => {
    await receiver('ana@example.org');
    const away = { ...mailing(), config: { ...mailing().config, SMTP_URL: 'smtp://127.0.0.1:9' } };
    await morning(away, '2026-11-24T06:31:00Z');
    const manager = await bench.as('manager');
    await sendLetters(mailing(), new Date('2026-11-24T06:31:30Z'));
    expect(post.taken).toEqual([]);
    const { nextAt, attempts, lastError } = await bench.service.db.letter.findFirstOrThrow();
    expect({ attempts, nextAt: nextAt.toISOString() }).toEqual({
      attempts: 1,
      nextAt: '2026-11-24T06:32:00.000Z',
    });
    expect(lastError).toContain('ECONNREFUSED');
    expect((await manager.get('/digest')).body).toContain('Ana Reis');
    await sendLetters(mailing(), new Date('2026-11-24T06:32:00Z'));
    expect(post.taken).toHaveLength(1);
  });

  test('that the server refuses for good is given up at once, and kept', async () => {
    await receiver('gone@example.org');
    post.refuseWith(550);
    await morning(mailing(), '2026-11-24T06:31:00Z');
    post.refuseWith(null);
    await sendLetters(mailing(), new Date('2026-11-25T06:31:00Z'));
    expect(post.taken).toEqual([]);
    const letter = await bench.service.db.letter.findFirstOrThrow();
    expect(letter.lastError).toContain('mailbox not here');
    const page = await (await bench.as('manager')).get('/digest');
    expect(page.body).toContain('not sent, given up');
  });

  test('is kept as an .eml file where no mail server is set', async () => {
    await receiver('ana@example.org');
    await morning(bench.service, '2026-11-24T06:31:00Z');
    const { id, sentAt } = await bench.service.db.letter.findFirstOrThrow();
    expect(sentAt).toBeNull();
    const manager = await bench.as('manager');
    expect((await manager.get('/digest')).body).toContain('kept, no mail server is set');
    const file = await manager.get(`/digest/letters/${id}.eml`);
    expect(file.headers['content-type']).toContain('message/rfc822');
    expect(file.body).toContain('Content-Type: multipart/alternative');
  });

  test('is left with one click from a mail program, signed out, and taken up again by a manager', async () => {
    const { id } = await receiver('ana@example.org');
    const page = `/digest/receivers/${id}/end`;
    const program = await bench.app.inject({
      method: 'POST',
      url: page,
      payload: 'List-Unsubscribe=One-Click',
      headers: { 'content-type': 'application/x-www-form-urlencoded' },
    });
    expect(program.statusCode).toBe(200);
    expect(program.headers['set-cookie']).toBeUndefined();
    expect((await browse(bench.app).get(page)).body).toContain('no longer goes to ana@example.org');
    await morning(mailing(), '2026-11-24T06:31:00Z');
    expect(post.taken).toEqual([]);
    const manager = await bench.as('manager');
    const again = await manager.post('/digest/receivers', {
      name: 'Ana Reis',
      email: 'ANA@example.org',
      site: siteId,
    });
    expect(again.status).toBe(303);
    const twice = await manager.post('/digest/receivers', {
      name: 'Ana',
      email: 'ana@example.org',
      site: siteId,
    });
    expect(twice.status).toBe(422);
  });
});

test('a letter is tried after 1, 2, 4 … minutes, at most two hours apart, ten times', () => {
  const now = new Date('2026-11-24T06:30:00Z');
  const minutes = [1, 2, 3, 7, 8, 9].map(
    (n) => ((nextTry(n, false, now)?.getTime() ?? 0) - now.getTime()) / 60_000,
  );
  expect(minutes).toEqual([1, 2, 4, 64, 120, 120]);
  expect(nextTry(10, false, now)).toBeNull();
  expect(nextTry(1, true, now)).toBeNull();
});
