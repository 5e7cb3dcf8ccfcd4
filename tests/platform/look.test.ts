import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { loadViews, type Views } from '../../src/platform/views.ts';
import {
  expectNoAxeViolations,
  expectNoSideways,
  longestWaitMs,
  type Size,
  sizes,
  startBrowser,
} from '../support/browser.ts';
import { samplePage, samples } from './samples/samples.ts';

/*
 * The samples in a real browser. With EVENWATER_SHOTS set to a folder, every sample is also photographed there
 * on a desk, a tablet and a phone, light and dark, and as printed.
 */
const ROOT = new URL('../..', import.meta.url).pathname;
const SHOTS = process.env.EVENWATER_SHOTS;
const SCHEMES = ['light', 'dark'] as const;
const FONTS = ['next', 'mono'].map((cut) =>
  join(ROOT, `node_modules/@fontsource-variable/atkinson-hyperlegible-${cut}/files`),
);

type Scheme = (typeof SCHEMES)[number];

let browser: Browser;
let views: Views;
let folder: string;

beforeAll(async () => {
  browser = await startBrowser();
  folder = mkdtempSync(join(tmpdir(), 'evenwater-look-'));
  cpSync(join(ROOT, 'views'), folder, { recursive: true });
  cpSync(join(ROOT, 'tests/platform/samples'), join(folder, 'samples'), { recursive: true });
  views = loadViews({ dir: folder });
  if (SHOTS) mkdirSync(SHOTS, { recursive: true });
});

afterAll(async () => {
  await browser?.close();
  if (folder) rmSync(folder, { recursive: true });
});

function html(name: string): string {
  const { layout, data, page } = samples[name] ?? { layout: null, data: {} };
  return views.render(`samples/${name}`, { page: { ...samplePage, ...page }, ...data }, layout);
}

async function open(name: string, screen: Size, scheme: Scheme = 'light'): Promise<Page> {
  const context = await browser.newContext({
    viewport: sizes[screen],
    colorScheme: scheme,
    reducedMotion: 'reduce',
  });
  context.setDefaultTimeout(longestWaitMs);
  const page = await context.newPage();
  await page.route('**/*', (route) => {
    const { pathname } = new URL(route.request().url());
    if (pathname === '/') return route.fulfill({ contentType: 'text/html', body: html(name) });
    const file = pathname.replace('/assets/', '');
    const places = [
      join(folder, 'assets', file),
      ...FONTS.map((dir) => join(dir, file.replace('fonts/', ''))),
    ];
    const path = places.find(existsSync);
    return path ? route.fulfill({ path }) : route.fulfill({ status: 404 });
  });
  await page.goto('http://farm.example/');
  await page.evaluate(() => document.fonts.ready);
  return page;
}

async function using(page: Page, look: (page: Page) => Promise<void>): Promise<void> {
  await look(page).finally(() => page.context().close());
}

describe.each(Object.keys(samples))('the sample page "%s"', (name) => {
  it('fits a desk, a tablet and a phone, and has nothing that axe finds wrong, light or dark', async () => {
    await using(await open(name, 'desk'), async (page) => {
      await expectNoAxeViolations(page);
      await page.emulateMedia({ colorScheme: 'dark' });
      await expectNoAxeViolations(page, 'look');
      for (const screen of Object.values(sizes)) {
        await page.setViewportSize(screen);
        await expectNoSideways(page);
      }
    });
  });

  // Not a check: there only when photographs are asked for.
  if (SHOTS !== undefined)
    it('is photographed', async () => {
      for (const screen of Object.keys(sizes) as Size[]) {
        for (const scheme of SCHEMES) {
          await using(await open(name, screen, scheme), async (page) => {
            await page.screenshot({
              path: join(SHOTS ?? '', `${name}-${screen}-${scheme}.png`),
              fullPage: screen !== 'phone',
            });
            if (screen === 'phone')
              await page.screenshot({
                path: join(SHOTS ?? '', `${name}-${screen}-${scheme}-full.png`),
                fullPage: true,
              });
            if (screen !== 'desk' || scheme !== 'dark') return;
            await page.pdf({ path: join(SHOTS ?? '', `${name}.pdf`), format: 'A4' });
          });
        }
      }
    });
});

describe('the house', () => {
  it('keeps all eight areas, people, farm and the way out within reach on a phone, without scripts', async () => {
    await using(await open('water', 'phone'), async (page) => {
      await page.getByText('More').click();
      for (const area of [
        'Today',
        'Water',
        'Racks',
        'Stock',
        'Alerts',
        'Rounds',
        'Digest',
        'Tags',
        'People',
        'Farm',
      ]) {
        expect(await page.getByRole('link', { name: area }).first().isVisible(), area).toBe(true);
      }
      expect(await page.getByRole('button', { name: 'Sign out' }).isVisible()).toBe(true);
      if (SHOTS) await page.screenshot({ path: join(SHOTS, 'more-phone-light.png') });
    });
  });

  it('lets the keyboard skip to the page first', async () => {
    await using(await open('rack', 'desk'), async (page) => {
      await page.keyboard.press('Tab');
      expect(await page.evaluate(() => document.activeElement?.getAttribute('href'))).toBe('#main');
    });
  });

  it('takes a refused form to its summary at once', async () => {
    await using(await open('form', 'tablet'), async (page) => {
      expect(await page.evaluate(() => document.activeElement?.className)).toBe('error-summary');
    });
  });
});

describe('the round', () => {
  it.each(['tablet', 'phone'] as const)('has targets of 48 px and more on the %s', async (screen) => {
    await using(await open('round', screen), async (page) => {
      const small = await page.evaluate(() =>
        [...document.querySelectorAll('.round button, .round a, .tile')]
          .map((e) => ({ text: e.textContent, box: e.getBoundingClientRect() }))
          .filter(({ box }) => box.width < 48 || box.height < 48)
          .map(({ text }) => text),
      );
      expect(small).toEqual([]);
    });
  });

  it('keeps its foot under the thumb, however long the list', async () => {
    await using(await open('round', 'phone'), async (page) => {
      const bottom = await page.evaluate(
        () => document.querySelector('.round-foot')?.getBoundingClientRect().bottom,
      );
      expect(bottom).toBe(844);
    });
  });
});

describe('the stylesheet', () => {
  it('documents the class names that charts and racks use', () => {
    const css = readFileSync(join(ROOT, 'views/assets/evenwater.css'), 'utf8');
    const header = css.slice(0, css.indexOf('*/'));
    const used = [...css.matchAll(/^\.(?:chart|rack) (?:\.lot)?\.?([a-z0-9-]+)/gm)].map(
      (match) => match[1] ?? '',
    );
    const undocumented = used.filter(
      (name) => !['text', 'a'].includes(name) && !header.includes(name.replace(/(light|on)-\d/, '$1-0')),
    );
    expect(undocumented).toEqual([]);
  });
});
