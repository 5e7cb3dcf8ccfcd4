import { mkdir } from 'node:fs/promises';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import {
  expectNoAxeViolations,
  expectNoSideways,
  listen,
  openDevice,
  signIn,
  startBrowser,
} from '../support/browser.ts';
import { type DemoBench, demoNow, evaluationsDone, startDemoBench } from '../support/demo-bench.ts';

// What a manager does about what the watch says: a limit tried on the past before it is kept, an alert put off.

let bench: DemoBench;
let browser: Browser;
let address: string;
let page: Page;

beforeAll(async () => {
  bench = await startDemoBench();
  address = await listen(bench);
  browser = await startBrowser();
  page = await (await openDevice(browser, address, { size: 'desk' })).newPage();
  await signIn(page, bench.person('manager'));
});
afterAll(async () => {
  await browser.close();
  await bench.close();
});

const main = async () => (await page.locator('main').textContent()) ?? '';
const hoursOn = (hours: number) => new Date(demoNow.getTime() + hours * 3_600_000);

/** The page in every size, light and dark, where photographs are wanted. */
async function photograph(name: string): Promise<void> {
  const folder = process.env.EVENWATER_SHOTS;
  if (folder === undefined) return;
  await mkdir(folder, { recursive: true });
  for (const [width, height] of [
    [1280, 800],
    [1024, 768],
    [390, 844],
  ] as const) {
    await page.setViewportSize({ width, height });
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      await page.screenshot({ path: `${folder}/${name}-${width}-${colorScheme}.png`, fullPage: true });
    }
  }
  await page.setViewportSize({ width: 1280, height: 800 });
  await page.emulateMedia({ colorScheme: 'light' });
}

describe('a limit', () => {
  test('is tried on the past, shown side by side with the present one, and kept', async () => {
    await page.goto('/watch/limits');
    await page.getByText('Nitrate creep', { exact: true }).click();
    await page.getByRole('link', { name: /Change.*Alert when the forecast is/ }).click();
    await page.getByLabel('New value').fill('2.4');
    await page.getByLabel('Why', { exact: true }).fill('Only what is certain');
    await page.getByRole('radio', { name: '30 days' }).check();
    await photograph('limit');
    await page.getByRole('button', { name: 'Try it' }).click();
    await page.waitForURL(/\/watch\/trials\//);
    await page.getByRole('heading', { name: 'What would change' }).waitFor();
    await photograph('trial');
    await expectNoAxeViolations(page);
    await page.setViewportSize({ width: 390, height: 844 });
    await expectNoSideways(page);
    await page.setViewportSize({ width: 1280, height: 800 });
    expect(await main()).toMatch(/1 alert with the present limit, 0 with the new one: 0 raised, 1 dropped/);
    expect(await main()).toContain('nitrate is rising');
    await page.getByRole('button', { name: 'Keep the new limit' }).click();
    await page.waitForURL(/\/watch\/limits\?open=nitrate-creep#nitrate-creep$/);
    expect(await main()).toContain('2.4 times');
    expect(await main()).toMatch(/Set by .*Only what is certain/);
    await photograph('limits');
  });

  test('can be left as it is, and is shown as it holds for one kind', async () => {
    await page.goto('/watch/limits');
    await page.getByLabel('Show what holds for').selectOption({ label: 'Maze and closed brain corals' });
    await page.getByRole('button', { name: 'Show' }).click();
    await page.waitForURL(/where=/);
    expect(await main()).not.toContain('Nitrate creep');
    await page.getByText('Too much light', { exact: true }).click();
    await page.getByRole('link', { name: /Change.*Only watch up to/ }).click();
    await page.getByLabel('New value').fill('1.5');
    await page.getByLabel('Why', { exact: true }).fill('They bear it');
    await page.getByRole('radio', { name: '30 days' }).check();
    await page.getByRole('button', { name: 'Try it' }).click();
    await page.waitForURL(/\/watch\/trials\//);
    await page.getByText('with the present limit').waitFor();
    expect(await main()).toContain('For Maze and closed brain corals');
    await page.getByRole('link', { name: 'Cancel' }).click();
    expect(await bench.service.db.ruleSetting.count({ where: { kindId: { not: null } } })).toBe(0);
  });
});

describe('an alert', () => {
  test('that is put off is back early when it gets worse, and its page says who did what when', async () => {
    // The limit that was kept has all judged anew, by the time that it was.
    await evaluationsDone(bench);
    const [paling] = (await openAlerts(bench.service.pool)).filter(
      ({ rule, severity }) => rule === 'condition-noted' && severity !== 'now',
    );
    if (paling === undefined) throw new Error('nothing pales on the demo farm');
    await page.goto(`/watch/${paling.id}`);
    await page.getByText('Another day').click();
    await page.getByLabel('Comes back on the morning of').fill('2026-12-20');
    await page.getByLabel('Why it can wait').fill('Moved into the shade');
    await page.getByRole('button', { name: 'Put it off', exact: true }).click();
    await page.getByText('Put off. It comes back on its day').waitFor();
    bench.at(hoursOn(2));
    const look = { lotId: paling.subjectId, state: 'bleached' as const, grade: 3, note: '', at: hoursOn(2) };
    await bench.change((work) => noteCondition(work, look));
    const theAlert = async () =>
      (await openAlerts(bench.service.pool, { subjectId: paling.subjectId })).find(
        ({ id }) => id === paling.id,
      );
    await expect.poll(async () => (await theAlert())?.putOffUntil, { interval: 50 }).toBeNull();
    await page.reload();
    const told = await main();
    for (const words of ['Came back', 'it got worse', 'Put off', 'Moved into the shade', 'Opened']) {
      expect(told).toContain(words);
    }
    await photograph('alert');
  });
});
