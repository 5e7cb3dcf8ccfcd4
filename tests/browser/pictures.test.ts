import { existsSync, globSync, mkdtempSync, readFileSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { listen, openDevice, signIn, startBrowser } from '../support/browser.ts';
import { type DemoBench, startDemoBench } from '../support/demo-bench.ts';

// Takes the pictures that README.md shows. EVENWATER_PICTURES=tests/browser/pictures takes them anew for the README.

const folder = process.env.EVENWATER_PICTURES ?? mkdtempSync(join(tmpdir(), 'evenwater-pictures-'));
const largestBytes = 150_000;

let bench: DemoBench;
let browser: Browser;
let page: Page;
beforeAll(async () => {
  bench = await startDemoBench({ watching: false });
  browser = await startBrowser();
  const device = await openDevice(browser, await listen(bench), { size: 'tablet', touch: true });
  page = await device.newPage();
  await signIn(page, bench.person('manager'));
});
afterAll(async () => {
  await browser.close();
  await bench.close();
});

const shoot = (name: string) => page.screenshot({ path: join(folder, `${name}.png`) });

test('the digest, a rack and a round can be photographed, each small enough for a README', async () => {
  await page.goto('/digest');
  await shoot('digest');
  await page.goto(`/racks/${bench.truth.brightRackId}`);
  await shoot('rack');
  await page.goto('/rounds');
  await page.getByRole('button', { name: /begin/i }).first().tap();
  await page.waitForURL(/\/racks\//);
  await page.waitForLoadState('networkidle');
  await shoot('round');
  const sizes = ['digest', 'rack', 'round'].map((name) => statSync(join(folder, `${name}.png`)).size);
  for (const size of sizes) expect(size).toBeLessThan(largestBytes);
});

test('README shows pictures that are there', () => {
  const shown = [
    ...readFileSync('README.md', 'utf8').matchAll(/\]\((tests\/browser\/pictures\/[^)]+)\)/g),
  ].map((match) => match[1] ?? '');
  expect(shown.length).toBe(3);
  expect(shown.filter((file) => !existsSync(file))).toEqual([]);
  expect(globSync('tests/browser/pictures/*').length).toBe(3);
});
