import { mkdir } from 'node:fs/promises';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { listen, openDevice, type Size, signIn, sizes, startBrowser } from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

// From a test that surprises to a correction that is held back, by touch on a tablet. With EVENWATER_SHOTS naming a
// folder, what was seen is photographed into it.

let bench: Bench;
let hall: Hall;
let browser: Browser;
let page: Page;
let correction: string;

const person = { email: 'manager@example.org', password: 'a long enough password' };

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  const { db } = bench.service;
  const passwordHash = await hashPassword(person.password);
  await db.account.create({
    data: { name: 'Nor Abell', email: person.email, passwordHash, role: 'manager' },
  });
  await db.systemQuantity.upsert({
    where: { systemId_quantityCode: { systemId: hall.systemId, quantityCode: 'alkalinity' } },
    create: {
      systemId: hall.systemId,
      quantityCode: 'alkalinity',
      bandLow: 2.7,
      bandHigh: 3.2,
      source: 'test',
    },
    update: { bandLow: 2.7, bandHigh: 3.2 },
  });
  const address = await listen(bench);
  browser = await startBrowser();
  page = await (await openDevice(browser, address, { size: 'tablet', touch: true })).newPage();
  await signIn(page, person);
});
afterAll(async () => {
  await browser.close();
  await bench.close();
});

const mainText = async () => (await page.locator('main').textContent()) ?? '';

async function enterAlkalinity(typed: string, at: string): Promise<string> {
  bench.at(at);
  await page.goto(`/water/systems/${hall.systemId}/readings/new`);
  await page.getByRole('textbox', { name: 'Alkalinity', exact: true }).fill(typed);
  await page.getByRole('button', { name: 'Save the readings' }).tap();
  await page.waitForURL((url) => !url.pathname.endsWith('/new'));
  return mainText();
}

/** The page as it is, in all sizes and both themes. */
async function photograph(name: string): Promise<void> {
  const folder = process.env.EVENWATER_SHOTS;
  if (folder === undefined) return;
  await mkdir(folder, { recursive: true });
  for (const [size, dark] of [
    ['desk', false],
    ['phone', true],
    ['tablet', false],
  ] as [Size, boolean][]) {
    await page.setViewportSize(sizes[size]);
    await page.emulateMedia({ colorScheme: dark ? 'dark' : 'light' });
    await page.screenshot({ path: `${folder}/${name}-${size}.png`, fullPage: true });
  }
}

const plan = () => page.goto(`/water/systems/${hall.systemId}/corrections/new?quantity=alkalinity`);

describe('a correction', () => {
  test('is not planned on a surprising reading: the test is asked for again', async () => {
    await enterAlkalinity('8.4', '2026-11-23T08:00Z');
    expect(await enterAlkalinity('6.9', '2026-11-24T07:00Z')).toContain('Test again');
    await plan();
    expect(await mainText()).toContain('waits for a second reading');
    expect(await page.getByRole('button', { name: 'Show the schedule' }).count()).toBe(0);
  });

  test('once a second test agrees, is looked at and planned', async () => {
    await enterAlkalinity('6.9', '2026-11-24T07:20Z');
    await plan();
    await page.getByLabel('Target').fill('8.4');
    await page.getByRole('button', { name: 'Show the schedule' }).tap();
    await page.waitForURL(/show=yes/);
    const shown = await mainText();
    expect(shown).toContain('nothing is planned yet');
    expect(shown).toContain('Gloves and eye protection');
    await photograph('preview');
    await page.getByRole('button', { name: 'Plan these steps' }).tap();
    await page.waitForURL(/\/water\/corrections\/[0-9a-f-]{36}$/);
    correction = page.url();
    await photograph('planned');
  });

  test('has its step done on a round', async () => {
    bench.at('2026-11-24T08:00Z');
    const roundId = await begin(bench, hall, await planRound(bench, hall, { steps: ['look'] }), '2026-11-24');
    await page.goto(`/rounds/${roundId}/systems/${hall.systemId}`);
    await page.getByRole('button', { name: /^Done ?: Add .* g of sodium bicarbonate/ }).tap();
    await expect.poll(() => bench.service.db.dose.count({ where: { systemId: hall.systemId } })).toBe(1);
    await page.goto(correction);
    expect(await mainText()).toContain('running, 1 of 2 steps done');
  });

  test('is held back when the retest departs: first to test again, then to revise', async () => {
    await enterAlkalinity('9.9', '2026-11-25T08:00Z');
    await page.goto(correction);
    expect(await mainText()).toContain('Test alkalinity again');
    expect(await page.getByRole('button', { name: /^Done:/ }).count()).toBe(0);
    await enterAlkalinity('9.9', '2026-11-25T08:20Z');
    await page.goto(correction);
    expect(await mainText()).toContain('Revise from this reading, or stop');
    await photograph('held');
    await page.getByRole('link', { name: "Revise from today's reading" }).tap();
    await page.waitForURL(/revises=/);
    expect(await mainText()).toContain('which is stopped when this one is planned');
    await page.goto(`/water/systems/${hall.systemId}/corrections`);
    expect(await mainText()).toContain('Held back');
    await photograph('list');
  });
});
