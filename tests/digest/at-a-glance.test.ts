import { simpleParser } from 'mailparser';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { liveLastDays } from '../../seed/demo/last-days.ts';
import { actOnAlert } from '../../src/alerts/changes.ts';
import { makeDigest } from '../../src/digest/digests.ts';
import { digestLetter } from '../../src/digest/mail.ts';
import { type DemoBench, demoNow, digestOnceSettled, startDemoBench } from '../support/demo-bench.ts';
import type { Visitor } from '../support/service.ts';

// The morning of the demo farm: read in a minute, before the coffee is cold.

let bench: DemoBench;
let manager: Visitor;
beforeAll(async () => {
  bench = await startDemoBench();
  manager = await bench.as('manager');
  await liveLastDays(bench.service);
  await digestOnceSettled(bench);
});
afterAll(() => bench.close());

/** The words that are seen: no drawings, nothing that is only read aloud. */
const wordsOf = (html: string): string[] =>
  html
    .replaceAll(/<(svg|style|head)[\s\S]*?<\/\1>/g, ' ')
    .replaceAll(/<\/summary>[\s\S]*?<\/details>/g, ' ')
    .replaceAll(/<span class="unseen">[\s\S]*?<\/span>/g, ' ')
    .replaceAll(/<h2 class="unseen">[\s\S]*?<\/h2>/g, ' ')
    .replaceAll(/<[^>]*>/g, ' ')
    .split(/\s+/)
    .filter((word) => /[\p{L}\p{N}]/u.test(word));
const articleOf = (html: string) => html.match(/<article[\s\S]*?<\/article>/)?.[0] ?? '';
const mattersIn = (html: string) =>
  articleOf(html)
    .replaceAll(/<details[\s\S]*?<\/details>/g, '')
    .match(/<li class="matter">[\s\S]*?<\/li>/g) ?? [];

describe('the digest of the demo farm', () => {
  test('says it in at most 150 words, a line, a figure, a picture and a button a matter', async () => {
    const { body } = await manager.get('/digest');
    expect(wordsOf(articleOf(body)).length).toBeLessThanOrEqual(150);
    const matters = mattersIn(body);
    expect(matters).toHaveLength(5);
    for (const matter of matters) {
      expect(matter.match(/class="button/g)).toHaveLength(1);
      expect(matter).toMatch(/<svg class="chart spark"[^>]* role="img" aria-label="[^"]{10,}"/);
      expect(matter).toMatch(/<span class="large (now|today)-word"><span class="fig">[−+]?[\d.]+( of \d+)?</);
    }
  });

  test('tells the alerts in the order of the page of alerts: the worst first', async () => {
    const { content } = await makeDigest(bench.service, bench.siteId, demoNow);
    const { body } = await manager.get('/watch');
    const listed = content.alerts.map(({ id }) => body.indexOf(`href="/watch/${id}#doing"`));
    expect(listed.length).toBeGreaterThan(3);
    expect(listed).not.toContain(-1);
    expect(listed).toEqual(listed.toSorted((a, b) => a - b));
  });

  test('draws in each small picture what the figure beside it says', async () => {
    const { content } = await makeDigest(bench.service, bench.siteId, demoNow);
    const told = (word: string) => {
      const alert = content.alerts.find(({ title }) => title.includes(word));
      if (alert?.picture == null) throw new Error(`nothing is drawn of ${word}`);
      return { ...alert, picture: alert.picture };
    };
    const nitrate = told('nitrate');
    const ahead = nitrate.picture.kind === 'course' ? (nitrate.picture.ahead ?? []) : [];
    expect(ahead.map(({ value }) => value.toFixed(1))).toEqual([
      nitrate.large?.text,
      /[\d.]+(?= in 60 days)/.exec(nitrate.large?.more ?? '')?.[0],
    ]);
    const lost = told('losing flesh');
    const racks = lost.picture.kind === 'rack' ? [lost.picture, ...(lost.picture.beside ?? [])] : [];
    const marked = racks.flatMap(({ cells }) => cells.filter(({ severity }) => severity !== ''));
    expect(`${marked.length} of 6`).toBe(lost.large?.text);
  });

  test('goes by mail with the same, its pictures inside it and none from elsewhere', async () => {
    const digest = await makeDigest(bench.service, bench.siteId, demoNow);
    const to = { name: 'Ravi', email: 'ravi@example.org', leave: 'https://farm.example.org/leave' };
    const site = { id: bench.siteId, timeZone: 'UTC' };
    const mail = await simpleParser(await digestLetter(bench.service, site, digest, to), {
      skipImageLinks: true,
    });
    const html = String(mail.html);
    const shown = [...html.matchAll(/<img src="([^"]*)"[^>]*alt="([^"]*)"/g)];
    expect(shown).toHaveLength(9);
    for (const [, src = '', alt = ''] of shown) {
      expect(src).toMatch(/^cid:/);
      expect(mail.attachments.map(({ cid }) => cid)).toContain(src.slice(4));
      expect(alt.length).toBeGreaterThan(10);
    }
    expect(wordsOf(html).length).toBeLessThanOrEqual(150);
    const told = digest.content.alerts.filter(({ severity }) => severity !== 'watch');
    for (const { title } of told) expect(html).toContain(title);
    expect(html).toContain('Only watched</a>: ');
  });

  test('says of what was acted on meanwhile by whom and what is still to confirm it; what it said stays as it was', async () => {
    const swing = await bench.service.db.alert.findFirstOrThrow({
      where: { rule: 'alkalinity-unsteady', clearedAt: null },
    });
    const before = await makeDigest(bench.service, bench.siteId, demoNow);
    bench.at(new Date(demoNow.getTime() + 600_000));
    await bench.change((work) => actOnAlert(work, swing.id, 'line cleaned'), manager.id);
    await expect.poll(async () => mattersIn((await manager.get('/digest')).body).length).toBe(4);
    const { body } = await manager.get('/digest');
    expect(articleOf(body)).toMatch(
      /South hall: alkalinity swings<\/a>.*Acted on, not known to have helped until a test of alkalinity:[\s\S]*?The manager \d\d:\d\d/,
    );
    expect((await makeDigest(bench.service, bench.siteId, demoNow)).content).toEqual(before.content);
  });
});
