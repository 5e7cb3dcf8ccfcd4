import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { boxOf } from '../support/boxes.ts';
import { expectNoSideways, listen, openDevice, signIn, sizes, startBrowser } from '../support/browser.ts';
import { type DemoBench, startDemoBench } from '../support/demo-bench.ts';

/** The most that a long list may be high on a phone of 390 px, px (own choice: five screens). */
const highest = 4000;

let bench: DemoBench;
let browser: Browser;
let page: Page;
beforeAll(async () => {
  bench = await startDemoBench({ watching: false });
  const address = await listen(bench);
  browser = await startBrowser();
  page = await (await openDevice(browser, address, { size: 'phone' })).newPage();
  await signIn(page, bench.person('owner'));
});
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
  test('the label of the stock’s search stands on one line', async () => {
    await page.goto('/stock');
    expect((await boxOf(page.locator('label[for="q"]'))).height).toBeLessThan(30);
  });

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
  });

  test('a row names its record and shows one figure, and nothing scrolls sideways', async () => {
    await page.goto('/kinds');
    const row = page.locator('table.rows tbody tr').first();
    await expect.poll(() => row.locator('.row-name a').isVisible()).toBe(true);
    expect(await row.locator('td:visible').count()).toBe(1);
    expect((await boxOf(row)).height).toBeLessThan(80);
    await expectNoSideways(page);
  });

  test('the longest names, of one word, scroll no page sideways', async () => {
    const { pool } = bench.service;
    const { rows } = await pool.query<{ rack: string; tank: string; system: string }>(
      'SELECT rack.id AS rack, tank.id AS tank, tank.system_id AS system FROM rack JOIN tank ON tank.id = rack.tank_id LIMIT 1',
    );
    const [{ rack = '', tank = '', system: water = '' } = {}] = rows;
    await pool.query(`UPDATE rack SET name = rpad('R', 40, 'x') WHERE id = $1`, [rack]);
    await pool.query(`UPDATE tank SET name = rpad('T', 60, 'x') WHERE id = $1`, [tank]);
    await pool.query(`UPDATE system SET name = rpad('S', 60, 'x') WHERE id = $1`, [water]);
    await pool.query(`UPDATE contact SET name = rpad('C', 60, 'x')`);
    await pool.query(`UPDATE round_plan SET name = rpad('P', 60, 'x') WHERE name = 'Full walk'`);
    const paths = ['/', '/water', '/racks', '/farm', '/farm/contacts', '/farm/switched-off', '/rounds/plans'];
    paths.push(`/racks/${rack}`, `/tanks/${tank}`, `/farm/tanks/${tank}`, `/farm/racks/${rack}`);
    for (const size of ['phone', 'tablet'] as const) {
      await page.setViewportSize(sizes[size]);
      for (const path of [...paths, `/water/systems/${water}/targets`, '/emergencies/events/oxygen']) {
        await page.goto(path);
        await expectNoSideways(page);
      }
    }
    await page.setViewportSize(sizes.phone);
  });
});
