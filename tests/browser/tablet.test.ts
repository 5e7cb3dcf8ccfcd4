import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import { makeHall } from '../rounds/hall.ts';
import { boxOf } from '../support/boxes.ts';
import { expectNoSideways, listen, openDevice, signIn, startBrowser } from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

// A manager enrols a tablet by touch, and two hands take turns at it.

let bench: Bench;
let browser: Browser;
let page: Page;
const manager = { email: 'manager@example.org', password: 'dry hands at the long desk' };

beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeHall(bench);
  const { account } = bench.service.db;
  const passwordHash = await hashPassword(manager.password);
  await account.create({ data: { email: manager.email, name: 'Lena Roth', role: 'manager', passwordHash } });
  for (const [name, pin] of [
    ['Ana Lind', '9716'],
    ['Tomas Brandt', '8305'],
  ] as const)
    await account.create({ data: { name, role: 'hand', pinHash: await hashPassword(pin) } });
  browser = await startBrowser();
  const device = await openDevice(browser, await listen(bench), { size: 'tablet', touch: true });
  page = await device.newPage();
});

afterAll(async () => {
  await browser.close();
  await bench.close();
});

const atIt = () => page.locator('.spine-account .account-name').textContent();

/** Two taps besides the digits: the name, and the button below the PIN. */
async function takeOver(name: string, pin: string): Promise<void> {
  await page.getByRole('link', { name, exact: true }).tap();
  await page.getByLabel('PIN').pressSequentially(pin);
  await page.getByRole('button', { name: 'Go on' }).tap();
}

test('a manager enrols the tablet in hand; two hands change over in two taps each', async () => {
  await signIn(page, manager);
  await page.goto('/people/tablets');
  await expectNoSideways(page);
  await page.getByLabel('Name of the tablet').fill('North hall');
  await page.getByRole('button', { name: 'Enrol this tablet' }).tap();
  await page.getByRole('heading', { name: 'Who is at the tablet?' }).waitFor();
  await expect.poll(() => page.locator('.tablet-people a').count()).toBeGreaterThan(1);
  for (const link of await page.locator('.tablet-people a').all())
    expect((await boxOf(link)).height).toBeGreaterThanOrEqual(48);

  await takeOver('Tomas Brandt', '8305');
  await page.waitForURL('**/');
  expect(await atIt()).toBe('Tomas Brandt');

  await page.locator('.spine-account').getByRole('link', { name: 'Change person' }).tap();
  await takeOver('Ana Lind', '9716');
  await page.waitForURL('**/');
  expect(await atIt()).toBe('Ana Lind');
});

test('a wrong PIN is said beside the field, and the keyboard alone is enough', async () => {
  await page.goto('/tablet');
  await page.getByRole('link', { name: 'Tomas Brandt' }).focus();
  await page.keyboard.press('Enter');
  const pin = page.getByLabel('PIN');
  await expect.poll(() => pin.evaluate((field) => field === document.activeElement)).toBe(true);
  await page.keyboard.type('1111');
  await page.keyboard.press('Enter');
  await page.getByText('That is not the PIN').first().waitFor();
  await page.getByLabel('PIN').fill('8305');
  await page.keyboard.press('Enter');
  await page.waitForURL('**/');
  expect(await atIt()).toBe('Tomas Brandt');
});

test('in a list of a tablet, what stands beside a name stands on its line', async () => {
  const rack = await bench.service.db.rack.findFirstOrThrow({ where: { name: 'Window rack' } });
  await page.goto(`/racks/${rack.id}`);
  const row = page.locator('table.rows > tbody > tr').first();
  const [name, place] = [row.locator('th .lot-code'), row.locator('td:nth-child(2) > span')];
  const [{ y, height }, beside] = [await boxOf(name), await boxOf(place)];
  expect(Math.abs(y + height / 2 - (beside.y + beside.height / 2))).toBeLessThan(5);
});

test('by the keys, a lot that is ticked leads straight to the buttons for ticked lots', async () => {
  await page.goto('/stock');
  const tick = page.locator('input[name="lot"]').first();
  await tick.focus();
  await page.keyboard.press('Space');
  await page.keyboard.press('Tab');
  const way = page.getByRole('link', { name: 'To the buttons for the ticked lots' });
  await expect.poll(() => way.evaluate((link) => link === document.activeElement)).toBe(true);
  expect((await boxOf(way)).x).toBeGreaterThanOrEqual(0);
  await page.keyboard.press('Enter');
  await page.keyboard.press('Tab');
  await expect.poll(() => page.evaluate(() => document.activeElement?.textContent)).toBe('Move');

  await tick.focus();
  await page.keyboard.press('Space');
  await page.keyboard.press('Tab');
  expect(await page.evaluate(() => document.activeElement?.className)).not.toContain('to-ticked');
});
