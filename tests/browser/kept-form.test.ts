import type { Browser, BrowserContext } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { listen, openDevice, signIn, startBrowser } from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

const password = 'a long enough password';

describe('a sign-in that ran out while a form was being filled in', () => {
  let bench: Bench;
  let hall: Hall;
  let browser: Browser;
  let device: BrowserContext;
  let email: string;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    hall = await makeHall(bench);
    const { id } = await bench.as('manager', 'Lena Roth');
    email = (await bench.service.db.account.findUniqueOrThrow({ where: { id } })).email ?? '';
    browser = await startBrowser();
    device = await openDevice(browser, await listen(bench), { size: 'tablet' });
  });
  afterAll(async () => {
    await browser?.close();
    await bench?.close();
  });

  test('what was typed is back after signing in, and saving goes on from there', async () => {
    const page = await device.newPage();
    await signIn(page, { email, password });
    await page.goto(`/stock/${hall.lots.B1.code}/details`);
    await page.locator('[name="note"]').fill('Came with a crab');
    await bench.service.db.session.deleteMany();
    await page.locator('main form.form button').last().click();
    await page.waitForURL('**/sign-in?**');
    expect(await page.getByRole('status').textContent()).toContain('What you typed is kept for an hour');

    await page.getByLabel('E-mail address').fill(email);
    await page.getByLabel('Password').fill(password);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.waitForURL('**/kept/*');
    expect(await page.locator('[name="note"]').inputValue()).toBe('Came with a crab');
    expect(await page.getByRole('alert').textContent()).toContain('You are signed in again');

    await page.locator('main form.form button').last().click();
    await page.waitForURL(`**/stock/${hall.lots.B1.code}**`);
    expect(await page.locator('main').textContent()).toContain('Came with a crab');
  });
});
