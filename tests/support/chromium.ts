import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

// Without a window's own parts it spends half of the processor time of a whole one.
const usualPlaces = [
  '/usr/bin/chromium-headless-shell',
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome-stable',
  '/usr/bin/google-chrome',
];

const advice =
  'No Chromium for the browser tests. Install one (Debian: apt-get install chromium-headless-shell) or set EVENWATER_CHROMIUM to its path.';

async function playwrightsOwn(): Promise<string | undefined> {
  const { chromium } = await import('playwright-core');
  const path = chromium.executablePath();
  return existsSync(path) ? path : undefined;
}

/** The path of a Chromium that is there, or undefined. */
export async function findChromium(): Promise<string | undefined> {
  const named = process.env.EVENWATER_CHROMIUM;
  if (named !== undefined) return existsSync(named) ? named : undefined;
  return usualPlaces.find(existsSync) ?? (await playwrightsOwn());
}

function attempt(command: string, args: string[]): boolean {
  return (
    spawnSync(command, args, { stdio: 'ignore', env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' } })
      .status === 0
  );
}

/** Debian's package, where this user may install packages. */
function fromDebian(): boolean {
  if (process.getuid?.() !== 0 || !existsSync('/usr/bin/apt-get')) return false;
  const get = (name: string) =>
    attempt('apt-get', ['install', '-y', '-q', '--no-install-recommends', name, 'fonts-liberation']);
  const install = () => get('chromium-headless-shell') || get('chromium');
  return install() || (attempt('apt-get', ['update', '-q']) && install());
}

function fromPlaywright(): boolean {
  return attempt(process.execPath, ['node_modules/playwright-core/cli.js', 'install', 'chromium']);
}

/**
 * A Chromium: one that is there, else Debian's, else Playwright's own download.
 * @throws Error saying what to do when none is to be had
 */
export async function ensureChromium(): Promise<string> {
  const found = await findChromium();
  if (found !== undefined) return found;
  for (const provide of [fromDebian, fromPlaywright]) {
    const path = provide() ? await findChromium() : undefined;
    if (path !== undefined) return path;
  }
  throw new Error(advice);
}
