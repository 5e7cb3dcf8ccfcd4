import { mkdir } from 'node:fs/promises';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import { makeHall } from '../rounds/hall.ts';
import {
  expectNoAxeViolations,
  expectNoSideways,
  goOnSignedIn,
  listen,
  openDevice,
  type Size,
  startBrowser,
} from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

const person = { email: 'nor@example.org', password: 'wet hands at the rack' };
let bench: Bench;
let browser: Browser;
let address: string;
let name: string;
beforeAll(async () => {
  // The browser's own clock runs, so the service's must show the same time.
  bench = await startBench({ watching: false, running: true });
  const hall = await makeHall(bench);
  name = (await bench.service.db.system.findUniqueOrThrow({ where: { id: hall.systemId } })).name;
  await makeHall(bench);
  const passwordHash = await hashPassword(person.password);
  await bench.service.db.account.create({
    data: { name: 'Nor Abell', email: person.email, passwordHash, role: 'hand' },
  });
  browser = await startBrowser();
  address = await listen(bench);
});
afterAll(async () => {
  await browser?.close();
  await bench?.close();
});

const shots = process.env.EVENWATER_SHOTS;
async function shoot(page: Page, what: string): Promise<void> {
  if (shots === undefined) return;
  await mkdir(shots, { recursive: true });
  await page.screenshot({ path: `${shots}/${what}.png`, fullPage: true });
}

/** Everything to be tapped that is lower than 48 px, links within a sentence left out, by its words. */
const tooSmall = (page: Page): Promise<string[]> =>
  page.evaluate(() =>
    [
      ...document.querySelectorAll<HTMLElement>(
        '.wrong :is(a, button, summary, select, input:not([type="hidden"]))',
      ),
    ]
      .filter((one) => one.closest('p, dd, label, .crumbs') === null && one.checkVisibility())
      .filter((one) => one.getBoundingClientRect().height < 47.5)
      .map(
        (one) =>
          `${one.tagName} ${one.textContent?.trim().slice(0, 40)} ${one.getBoundingClientRect().height}`,
      ),
  );

/** What the device keeps and has not brought to the service, by step or words; those put aside and refused left out. */
const keptTexts = (page: Page): Promise<{ unsent: string[] }> =>
  page.evaluate(() => {
    type Kept = { step: string; text: string; sentAt?: string; refused?: string };
    const all = JSON.parse(localStorage.getItem('evenwater-emergencies') ?? '[]') as { entries: Kept[] }[];
    const waiting = all.flatMap(({ entries }) => entries).filter((one) => !one.sentAt && !one.refused);
    return { unsent: waiting.map(({ step, text }) => step || text) };
  });

describe.each(['tablet', 'phone'] as Size[])('with the network cut, on a %s', (size) => {
  let device: BrowserContext;
  let page: Page;
  let taps = 0;
  const tap = async (of: { tap(): Promise<void> }) => {
    taps += 1;
    await of.tap();
  };
  beforeEach(async () => {
    taps = 0;
    device = await openDevice(browser, address, { size, touch: true, isNew: true });
    page = await device.newPage();
    await goOnSignedIn(page, address, person);
    await page.goto('/water');
    await page.locator('html[data-emergencies]').waitFor({ state: 'attached' });
    return () => device.close();
  });

  test('the first physical step stands there after at most four taps; ticks arrive with their times', async () => {
    await device.setOffline(true);
    const begun = Date.now();
    await tap(page.getByRole('link', { name: 'Report trouble' }));
    await tap(page.locator('.wrong-groups').getByRole('link', { name: 'The power is out' }));
    await tap(page.getByRole('button', { name: 'All of them' }));
    const first = page.getByRole('heading', { name: 'Get a torch' });
    await first.waitFor();
    expect(await tooSmall(page)).toEqual([]);
    expect(taps).toBeLessThanOrEqual(4);
    await shoot(page, `${size}-first-step`);

    await page.getByRole('button', { name: /^Done ?: Get a torch/ }).tap();
    await page.getByRole('heading', { name: 'Is it the street' }).waitFor();
    const ticked = Date.now();
    await page.getByRole('button', { name: /^Done ?: Is it the street/ }).tap();
    await page.getByRole('heading', { name: 'Move water and air, now' }).waitFor();
    // The farm's own numbers, as last loaded.
    expect(await page.locator('[data-step="air"]').textContent()).toContain(name);
    expect(await page.locator('[data-step="air"]').textContent()).toContain(
      'Oxygen without flow: 4 mg/L after',
    );
    await expect.poll(() => page.locator('[data-unsent]').textContent()).toContain('kept on this device');
    await shoot(page, `${size}-oxygen`);
    // Loaded anew without a network, it stands where it stood.
    await page.reload();
    await page.getByRole('heading', { name: 'Move water and air, now' }).waitFor();
    expect(await bench.service.db.emergency.count({ where: { createdAt: { gt: new Date(begun) } } })).toBe(0);

    const back = Date.now();
    await device.setOffline(false);
    await page.waitForURL(/\/emergencies\/[0-9a-f-]{36}$/);
    // The service counts how long the sending took to how late the device's clock is.
    const sending = Date.now() - back;
    const id = page.url().split('/').at(-1) ?? '';
    const entries = await bench.service.db.emergencyEntry.findMany({
      where: { emergencyId: id },
      orderBy: { at: 'asc' },
    });
    expect(entries.map(({ kind, step }) => [kind, step])).toEqual([
      ['done', 'light'],
      ['done', 'breaker'],
    ]);
    expect(entries[0]?.at.getTime()).toBeGreaterThanOrEqual(begun);
    expect(entries[0]?.at.getTime()).toBeLessThanOrEqual(ticked + sending);
    await page.getByRole('heading', { name: 'Move water and air, now' }).waitFor();
    await expectNoSideways(page);
    await expectNoAxeViolations(page);
    expect(await tooSmall(page)).toEqual([]);
    await shoot(page, `${size}-record`);

    // A later look does not take the place of the oxygen in thirty minutes, and both ticks stand in what was done.
    const timer = page.locator('.look-timer');
    await page.locator('[data-step-link="measure"]').tap();
    await page.getByRole('button', { name: /: Oxygen and temperature by hand$/ }).tap();
    await timer.waitFor();
    const oxygen = await timer.getAttribute('data-due');
    await page.locator('[data-step-link="tests"]').tap();
    await page.getByRole('button', { name: /: Test at 0, 12, 24 and 48 hours$/ }).tap();
    const story = page.locator('[data-story]');
    await expect.poll(() => story.textContent()).toContain('Test at 0, 12, 24 and 48 hours');
    expect(await story.textContent()).toContain('Done: Oxygen and temperature by hand');
    expect(await timer.getAttribute('data-due')).toBe(oxygen);
    await expect.poll(async () => (await keptTexts(page)).unsent).toEqual([]);
    await page.reload();
    await page.getByRole('button', { name: 'Looked' }).tap();
    // Then the later one is next.
    await expect
      .poll(async () => Date.parse((await timer.getAttribute('data-due')) ?? ''))
      .toBeGreaterThan(Date.parse(oxygen ?? ''));
  });

  test('a note that is not taken can be read, changed and sent, or put aside', async () => {
    await device.setOffline(true);
    await page.getByRole('link', { name: 'Report trouble' }).tap();
    await page.locator('.wrong-groups').getByRole('link', { name: 'The power is out' }).tap();
    await page.getByRole('button', { name: 'All of them' }).tap();
    await page.getByRole('heading', { name: 'Get a torch' }).waitFor();
    // Two notes that are longer than the service takes.
    await page.evaluate((at) => {
      const place = 'evenwater-emergencies';
      const kept = JSON.parse(localStorage.getItem(place) ?? '[]') as { entries: object[] }[];
      const note = { kind: 'note', step: '', at, notedBy: null };
      const texts = [`Pump 2 hums ${'x'.repeat(600)}`, `Nothing more ${'y'.repeat(600)}`];
      for (const text of texts) kept.at(-1)?.entries.push({ ...note, id: crypto.randomUUID(), text });
      localStorage.setItem(place, JSON.stringify(kept));
    }, new Date().toISOString());
    await device.setOffline(false);
    await page.waitForURL(/\/emergencies\/[0-9a-f-]{36}$/);
    const record = () => page.url().split('/').at(-1) ?? '';
    const rows = page.locator('[data-refused-notes] li');
    await rows.nth(1).waitFor();
    expect(await rows.first().textContent()).toContain('At most 500 characters.');
    await shoot(page, `${size}-not-taken`);
    await expectNoSideways(page);
    await expectNoAxeViolations(page);
    await rows.first().getByText('Change it').tap();
    await rows.first().getByLabel('Note').fill('Pump 2 hums');
    await rows.nth(1).getByText('Change it').tap();
    await rows.nth(1).getByLabel('Note').fill('Nothing');
    await rows.first().getByRole('button', { name: 'Send it changed' }).tap();
    await expect
      .poll(() =>
        bench.service.db.emergencyEntry.count({ where: { text: 'Pump 2 hums', emergencyId: record() } }),
      )
      .toBe(1);
    // What was being typed in the other is still there.
    await rows.nth(1).waitFor({ state: 'hidden' });
    await expect.poll(() => rows.first().getByLabel('Note').inputValue()).toBe('Nothing');
    await expect.poll(async () => (await keptTexts(page)).unsent).toEqual([]);
    // What is ticked while a refused note stands there stays when that note is put aside.
    await device.setOffline(true);
    await page.getByRole('button', { name: /^Done ?: Get a torch/ }).tap();
    await expect.poll(async () => (await keptTexts(page)).unsent).toEqual(['light']);
    await rows.first().getByRole('button', { name: 'Put it aside' }).tap();
    expect((await keptTexts(page)).unsent).toEqual(['light']);
    await device.setOffline(false);
    await expect.poll(async () => (await keptTexts(page)).unsent).toEqual([]);
    await page.reload();
    await page.locator('[data-refused-notes]').waitFor({ state: 'hidden' });
    await page.getByRole('heading', { name: 'What was done' }).waitFor();
    await page.locator('[data-unsent]').waitFor({ state: 'hidden' });
    await expect.poll(() => rows.count()).toBe(0);
  });

  test('only the system that was chosen shows its numbers', async () => {
    await device.setOffline(true);
    await page.getByRole('link', { name: 'Report trouble' }).tap();
    await page.locator('.wrong-groups').getByRole('link', { name: 'The water is too cold' }).tap();
    await page.getByRole('button', { name, exact: true }).tap();
    await page.locator('[data-step-link="warm"]').tap();
    await page.getByRole('heading', { name: 'Warm it step by step' }).waitFor();
    const shown = page.locator('[data-step="warm"] [data-system]:not([hidden])');
    await expect.poll(() => shown.count()).toBe(1);
    expect(await shown.textContent()).toContain('Go on slowly from 18 °C');
    await expectNoSideways(page);
  });

  test('the choice and the steps hold to WCAG in both themes, and nothing scrolls sideways', async () => {
    for (const path of ['/emergencies', '/emergencies/events/overdose', '/farm/contacts', '/water']) {
      await page.goto(path);
      await expectNoSideways(page);
      await expectNoAxeViolations(page);
      await shoot(page, `${size}${path.replaceAll('/', '-')}`);
      await page.emulateMedia({ colorScheme: 'dark' });
      await expectNoAxeViolations(page, 'look');
      await shoot(page, `${size}-dark${path.replaceAll('/', '-')}`);
      await page.emulateMedia({ colorScheme: 'light' });
    }
  });
});
