import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { expectNoSideways, listen, openDevice, signIn, startBrowser } from '../support/browser.ts';
import { type DemoBench, startDemoBench } from '../support/demo-bench.ts';

/** The most that a long list may be high on a phone of 390 px, px (own choice: five screens). */
const highest = 4000;

let bench: DemoBench;
let browser: Browser;
let page: Page;
beforeAll(async () => {
  bench = await startDemoBench();
  const address = await listen(bench);
  browser = await startBrowser();
  page = await (await openDevice(browser, address, { size: 'phone' })).newPage();
  await signIn(page, bench.person('owner'));
}, 120_000);
afterAll(async () => {
  await browser.close();
  await bench.close();
});

async function heightOf(path: string): Promise<number> {
  expect((await page.goto(path))?.status(), path).toBe(200);
  return page.evaluate(() => document.documentElement.scrollHeight);
}

/** The rack with the most lots, as staff meet it. */
async function fullestRack(): Promise<string> {
  const { rows } = await bench.service.pool.query<{ id: string }>(
    'SELECT rack_id AS id FROM lot_place GROUP BY rack_id ORDER BY count(DISTINCT lot_id) DESC LIMIT 1',
  );
  return `/racks/${rows[0]?.id}`;
}

/** The system with the longest log. */
async function system(): Promise<string> {
  const { rows } = await bench.service.pool.query<{ id: string }>(
    'SELECT system_id AS id FROM dose GROUP BY system_id ORDER BY count(*) DESC LIMIT 1',
  );
  return `/water/systems/${rows[0]?.id}`;
}

describe('on a phone', () => {
  test('no long list is higher than five screens', async () => {
    const [rack, water] = await Promise.all([fullestRack(), system()]);
    const pages = [
      '/kinds',
      '/water/units',
      '/rounds/past',
      '/stock/ready',
      '/stock/ready?part=not',
      '/journal',
      '/tags',
      ...['/', '/farm', '/farm/equipment', '/stock', '/stock/cuts', '/stock/cuts?page=2', '/affected'],
    ];
    const { rows: lots } = await bench.service.pool.query<{ code: string }>('SELECT code FROM lot LIMIT 60');
    const { rows: dosers } = await bench.service.pool.query<{ id: string }>(
      `SELECT id FROM equipment WHERE name = 'Trace doser'`,
    );
    const { rows: kits } = await bench.service.pool.query<{ id: string }>(
      'SELECT kit_id AS id FROM check_reading GROUP BY kit_id ORDER BY count(*) DESC LIMIT 1',
    );
    pages.push(
      ...kits.map(({ id }) => `/water/kits/${id}`),
      ...['/stock/paper', '/glossary?word=dkh', '/export', '/emergencies/events/power', `${water}/targets`],
      `/stock/paper/typing?ticked=${lots.map(({ code }) => code).join('.')}`,
      ...dosers.slice(0, 1).map(({ id }) => `/water/dosers/${id}`),
    );
    const paths = [...pages, rack, water, `${water}/doses`, `${water}/feedings`, `${water}/water-changes`];
    const tooHigh: string[] = [];
    for (const path of paths) {
      const height = await heightOf(path);
      if (height >= highest) tooHigh.push(`${path}: ${height} px`);
    }
    expect(tooHigh).toEqual([]);
  }, 120_000);

  test('a row names its record and shows one figure, and nothing scrolls sideways', async () => {
    await page.goto('/kinds');
    const row = page.locator('table.rows tbody tr').first();
    await expect.poll(() => row.locator('.row-name a').isVisible()).toBe(true);
    expect(await row.locator('td:visible').count()).toBe(1);
    expect((await row.boundingBox())?.height).toBeLessThan(80);
    await expectNoSideways(page);
  });
});
