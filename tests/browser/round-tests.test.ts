import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import { localDay } from '../../src/platform/days.ts';
import { enterReadings } from '../../src/water/readings/readings.ts';
import { begin, type Hall, makeHall, planRound, zone } from '../rounds/hall.ts';
import { boxOf } from '../support/boxes.ts';
import {
  expectNoAxeViolations,
  expectNoSideways,
  goOnSignedIn,
  listen,
  openDevice,
  startBrowser,
} from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

// Six tests of one system, one at a time, at the pace of a hand (own choice): what counts is how often it touches the
// screen, whatever else the machine is doing.
const pace = { digit: 0.35, tap: 0.8 };
const touched = { digit: 0, tap: 0 };

const person = { email: 'ida@example.org', password: 'a syringe in the other hand' };
const usual: [string, string, string][] = [
  ['alkalinity', '8.3', 'dKH'],
  ['calcium', '425', 'mg/L'],
  ['magnesium', '1300', 'mg/L'],
  ['nitrate', '6.2', 'mg/L'],
  ['phosphate', '0.05', 'mg/L'],
  ['salinity', '35.1', 'PSU'],
];
const day = 86_400_000;

let bench: Bench;
let browser: Browser;
let address: string;
let hall: Hall;
let page: Page;
let roundId: string;

beforeAll(async () => {
  // The browser's own clock runs, so the service's must show the same time.
  bench = await startBench({ watching: false, running: true });
  const passwordHash = await hashPassword(person.password);
  await bench.service.db.account.create({
    data: { name: 'Ida Moss', email: person.email, passwordHash, role: 'hand' },
  });
  browser = await startBrowser();
  address = await listen(bench);
});
afterAll(async () => {
  await browser?.close();
  await bench?.close();
});

/** Six days of tests, each as usual as the one before. */
async function testedBefore(tests = usual): Promise<void> {
  const now = bench.service.now().getTime();
  for (let i = 6; i > 0; i--)
    await bench.change((work) =>
      enterReadings(work, {
        systemId: hall.systemId,
        at: new Date(now - i * day),
        note: '',
        readings: tests.map(([quantityCode, text, unit]) => ({ quantityCode, text, unit, sure: true })),
      }),
    );
  const account = await bench.service.db.account.findFirstOrThrow({ where: { email: person.email } });
  await bench.service.db.reading.updateMany({
    where: { systemId: hall.systemId },
    data: { accountId: account.id },
  });
}

const current = () => page.locator('.test-stage > .current');
const name = () => current().getAttribute('data-test');
const type = async (text: string) => {
  for (const key of text) {
    await current().locator(`.pad [data-key="${key}"]`).tap();
    touched.digit += 1;
  }
};
const save = async () => {
  await current().locator('[data-note]').tap();
  touched.tap += 1;
};
const open = async (size: 'tablet' | 'phone') => {
  const device = await openDevice(browser, address, { size, touch: true });
  page = await device.newPage();
  await goOnSignedIn(page, address, person);
  await page.goto(`/rounds/${roundId}/systems/${hall.systemId}`);
  await page.locator('html[data-reloads]').waitFor({ state: 'attached' });
  await page.getByRole('link', { name: 'Enter tests' }).tap();
  await current().locator('.pad').waitFor();
};
const saved = () =>
  bench.service.db.roundEntry.findMany({ where: { roundId, kind: 'reading' }, orderBy: { at: 'asc' } });

beforeEach(async () => {
  hall = await makeHall(bench);
  const today = localDay(new Date(), zone);
  roundId = await begin(bench, hall, await planRound(bench, hall, { startsAt: '00:00' }), today);
});

describe('tests, one quantity at a time', () => {
  test.each(['tablet', 'phone'] as const)(
    'six are entered within 15 s on a %s, and the field never moves',
    async (size) => {
      await testedBefore();
      await open(size);
      await expectNoSideways(page);
      await expectNoAxeViolations(page);
      const at = async () => JSON.stringify(await boxOf(current().locator('[data-pad], .pad').first()));
      const place = await at();
      Object.assign(touched, { digit: 0, tap: 0 });
      let last: string | null = null;
      const texts = Object.fromEntries(usual.map(([code, text]) => [code, text]));
      for (let i = 0; i < usual.length; i++) {
        await expect.poll(name).not.toBe(last);
        const code = await name();
        last = code;
        await type(texts[code ?? ''] ?? '');
        expect(await at()).toBe(place);
        await save();
      }
      const seconds = touched.digit * pace.digit + touched.tap * pace.tap;
      await page.waitForURL(/\/systems\/[^/]+$/);
      expect(touched.tap).toBe(usual.length);
      expect(seconds).toBeLessThanOrEqual(15);
      await expect.poll(async () => (await saved()).length).toBe(6);
      await page.context().close();
    },
  );

  test('a surprising number fills "Test again"; saving goes on all the same, and the second test comes first', async () => {
    await testedBefore();
    await open('phone');
    const again = current().getByRole('button', { name: 'Test again' });
    expect(await again.isVisible()).toBe(false);
    await type('11');
    await again.waitFor();
    await expect.poll(() => again.getAttribute('class')).not.toContain('quiet');
    await expect.poll(() => current().locator('[data-note]').getAttribute('class')).toContain('quiet');
    const pad = await boxOf(current().locator('.pad'));
    await again.tap();
    await page.getByText('11 dKH just noted').waitFor();
    await expect.poll(name).toBe('alkalinity');
    expect(await boxOf(current().locator('.pad'))).toEqual(pad);
    await expect.poll(() => current().locator('[data-pad]').inputValue()).toBe('');
    await type('8.3');
    await save();
    await expect.poll(name).toBe('calcium');
    await expect.poll(async () => (await saved()).length).toBe(2);
    await page.context().close();
  });

  test('"Test again" in the head leads to the test of the quantity that surprised', async () => {
    await testedBefore();
    const account = await bench.service.db.account.findFirstOrThrow({ where: { email: person.email } });
    const readings = [{ quantityCode: 'nitrate', text: '30', unit: 'mg/L', sure: true }];
    const at = bench.service.now();
    await bench.change(
      (work) => enterReadings(work, { systemId: hall.systemId, at, note: '', readings }),
      account.id,
    );
    const device = await openDevice(browser, address, { size: 'tablet', touch: true });
    page = await device.newPage();
    await goOnSignedIn(page, address, person);
    await page.goto(`/rounds/${roundId}/systems/${hall.systemId}`);
    await page.locator('html[data-reloads]').waitFor({ state: 'attached' });
    await page.locator('.round-again').tap();
    await current().locator('.pad').waitFor();
    expect(await name()).toBe('nitrate');
    await device.close();
  });

  test('a changed number is judged anew, and a second tap right after the question is no answer to it', async () => {
    await testedBefore();
    await open('tablet');
    await type('86');
    await save();
    const doubt = current().locator('[data-doubt]');
    await doubt.waitFor();
    for (let i = 0; i < 2; i++) await current().locator('.pad [data-key="back"]').tap();
    await expect.poll(() => doubt.isVisible()).toBe(false);
    await type('11');
    await current()
      .locator('[data-note]')
      .evaluate((button: HTMLButtonElement) => {
        button.click();
        button.click();
      });
    await current().locator('[data-surprise]').waitFor();
    expect(await name()).toBe('alkalinity');
    expect(await saved()).toEqual([]);
    await page.context().close();
  });

  test('field, words and unit agree: salinity tested as specific gravity is said so, and a PSU typed there is understood', async () => {
    await testedBefore([['salinity', '1.0264', 'SG 25/25']]);
    await open('tablet');
    for (let at = await name(); at !== 'salinity'; at = await name()) {
      await current().getByRole('button', { name: 'Skip' }).tap();
      await expect.poll(name).not.toBe(at);
    }
    const shown = await current().locator('[data-unit]').textContent();
    expect(await current().locator('.test-last').textContent()).toContain(shown);
    await type('35.1');
    await current().locator('[data-note]').tap();
    await current().getByRole('button', { name: 'It is PSU' }).tap();
    await expect.poll(() => current().locator('[data-unit]').textContent()).toBe('PSU');
    await expect.poll(() => current().locator('.test-last').textContent()).toContain('PSU');
    await save();
    await expect.poll(async () => (await saved()).length).toBe(1);
    expect((await saved())[0]?.detail).toMatchObject({ what: 'Salinity 35.1 PSU' });
    await page.context().close();
  });

  test('by keyboard: digits, Enter goes on, Escape closes', async () => {
    await testedBefore();
    await open('tablet');
    await page.keyboard.type('8.3');
    await page.keyboard.press('Enter');
    await expect.poll(name).toBe('calcium');
    await page.keyboard.type('425');
    await page.keyboard.press('Enter');
    await expect.poll(name).toBe('magnesium');
    await page.keyboard.press('Escape');
    await page.getByText('Calcium 425').first().waitFor();
    await page.waitForURL(/\/systems\/[^/]+$/);
    await page.context().close();
  });
});
