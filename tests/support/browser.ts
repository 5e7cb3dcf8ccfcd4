import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type axe from 'axe-core';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { expect } from 'vitest';
import { ensureChromium } from './chromium.ts';
import type { Bench } from './service.ts';

/** The sizes every screen is looked at. */
export const sizes = {
  desk: { width: 1280, height: 800 },
  tablet: { width: 1024, height: 768 },
  phone: { width: 390, height: 844 },
} as const;

export type Size = keyof typeof sizes;

/** How long a browser waits for anything, ms. It bounds a hang, as the runner's own limits do, and is no aim: busy machines are slow. */
export const longestWaitMs = 300_000;

// A picture is drawn by the processor in any case: the second way of doing it is a process more.
const drawing = ['--disable-gpu', '--disable-software-rasterizer'];
// Letters as wide as a whole Chromium draws them: without a window it fits them to the px grid, and lines break elsewhere.
const letters = '--font-render-hinting=none';
const quiet = ['--no-sandbox', '--disable-quic', '--no-first-run', letters, ...drawing];
const offline = ['--disable-background-networking', '--disable-component-update', '--disable-sync'];

/** Starts a Chromium; `more` are further switches for it. */
export async function startBrowser(more: readonly string[] = []): Promise<Browser> {
  return chromium.launch({ executablePath: await ensureChromium(), args: [...quiet, ...offline, ...more] });
}

/** Lets the bench's app answer on a port of this machine. */
export async function listen(bench: Bench): Promise<string> {
  return bench.app.listen({ host: '127.0.0.1', port: 0 });
}

interface Look {
  size?: Size;
  dark?: boolean;
  /** A finger instead of a mouse. */
  touch?: boolean;
  /** New: it has nothing yet of the pages of "Report trouble", and loads them all when its first page is opened. */
  isNew?: boolean;
}

/** What the copy of the pages of "Report trouble" is dated by on a device (src/browser/emergency-copy.ts). */
const keptTrouble = 'evenwater-emergency-copy';

/**
 * A device of its own: cookies, storage, size and theme. Unless it is new, it takes its copy of the pages of "Report
 * trouble" for as old as itself: some fifty pages that nobody opens would else be drawn for each device.
 */
export async function openDevice(
  browser: Browser,
  address: string,
  look: Look = {},
): Promise<BrowserContext> {
  const device = await browser.newContext({
    baseURL: address,
    viewport: sizes[look.size ?? 'desk'],
    colorScheme: look.dark === true ? 'dark' : 'light',
    hasTouch: look.touch ?? false,
    reducedMotion: 'reduce',
  });
  device.setDefaultTimeout(longestWaitMs);
  if (look.isNew !== true)
    await device.addInitScript((place) => {
      // A page that is empty yet keeps nothing.
      if (location.protocol === 'about:') return;
      if (localStorage.getItem(place) === null) localStorage.setItem(place, String(Date.now()));
    }, keptTrouble);
  return device;
}

/** Fills in the sign-in page. */
export async function signIn(page: Page, person: { email: string; password: string }): Promise<void> {
  await page.goto('/sign-in');
  await page.getByLabel('E-mail address').fill(person.email);
  await page.getByLabel('Password').fill(person.password);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.waitForURL((url) => !url.pathname.startsWith('/sign-in'));
}

/** What a browser keeps of a session, by address and e-mail. */
const sessions = new Map<string, Awaited<ReturnType<BrowserContext['cookies']>>>();

/** Signs in on the first device at this address; further devices of the same person go on with that session. */
export async function goOnSignedIn(
  page: Page,
  address: string,
  person: { email: string; password: string },
): Promise<void> {
  const key = `${address} ${person.email}`;
  const kept = sessions.get(key);
  if (kept !== undefined) return page.context().addCookies(kept);
  await signIn(page, person);
  sessions.set(key, await page.context().cookies());
}

/** axe in its short form: each page reads it anew. */
const axeScript = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

const rules = {
  page: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
  look: ['color-contrast', 'link-in-text-block', 'target-size'],
};

/**
 * Fails with a readable list when axe finds anything against WCAG 2.2 AA on the page. For a page that was looked at
 * whole before, `look` takes only the rules that can answer otherwise in another theme or size.
 */
export async function expectNoAxeViolations(page: Page, of: keyof typeof rules = 'page'): Promise<void> {
  const options = { runOnly: rules[of], resultTypes: ['violations' as const] };
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(axeScript);
  const said = await page.evaluate(async (asked) => {
    const { violations } = await (window as unknown as { axe: typeof axe }).axe.run(asked);
    return violations.map(({ id, nodes }) => `${id}: ${nodes.map((node) => node.html).join(' | ')}`);
  }, options);
  expect(said.join('\n'), `axe on ${page.url()}`).toBe('');
}

/** Fails when the page scrolls sideways. */
export async function expectNoSideways(page: Page): Promise<void> {
  const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
  expect(wide, `${page.url()} scrolls sideways`).toBeLessThanOrEqual(room ?? 0);
}
