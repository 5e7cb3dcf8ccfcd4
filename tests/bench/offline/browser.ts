import type { Browser, BrowserContext, Page } from 'playwright-core';
import { listen, openDevice, signIn, startBrowser } from '../../support/browser.ts';
import { compare, type OfflineFarm, type Tally } from './farm.ts';

/** Two real browsers on one round, each with cuts, reloads and an ended session by chance. */
export async function browserRuns(
  farm: OfflineFarm,
  runs: number,
  chance: () => number,
  each: (tally: Tally, entries: number) => void,
): Promise<void> {
  const address = await listen(farm.bench);
  const browser = await startBrowser();
  try {
    for (let run = 0; run < runs; run++) await oneRun(farm, browser, address, chance, each);
  } finally {
    await browser.close();
  }
}

async function oneRun(
  farm: OfflineFarm,
  browser: Browser,
  address: string,
  chance: () => number,
  each: (tally: Tally, entries: number) => void,
): Promise<void> {
  const roundId = await farm.newRound();
  const tablets = await Promise.all(
    farm.people.map((person) => openTablet(browser, address, person, roundId, farm.hall.window)),
  );
  await Promise.all(tablets.map((tablet) => walk(tablet, farm, roundId, chance)));
  await Promise.all(tablets.map((tablet, i) => settle(tablet, farm.people[i], roundId)));
  const tapped = await Promise.all(tablets.map(({ page }) => tappedOn(page)));
  each(await compare(farm, roundId, tapped), tapped.flat().length);
  for (const { device } of tablets) await device.close();
}

interface Tablet {
  device: BrowserContext;
  page: Page;
}

async function openTablet(
  browser: Browser,
  address: string,
  person: { email: string; password: string },
  roundId: string,
  rackId: string,
): Promise<Tablet> {
  const device = await openDevice(browser, address, { size: 'tablet', touch: true });
  // What is tapped is told aside as it is written down, since it is gone from the tablet once the service has it.
  await device.addInitScript(() => {
    const add = IDBObjectStore.prototype.add;
    IDBObjectStore.prototype.add = function (value: unknown, key?: IDBValidKey) {
      const { entry } = value as { entry?: { id: string; kind: string } };
      if (entry !== undefined) {
        const told = JSON.parse(localStorage.getItem('tapped') ?? '[]') as unknown[];
        localStorage.setItem('tapped', JSON.stringify([...told, { id: entry.id, kind: entry.kind }]));
      }
      return key === undefined ? add.call(this, value) : add.call(this, value, key);
    };
  });
  const page = await device.newPage();
  await signIn(page, person);
  await page.goto(`/rounds/${roundId}/racks/${rackId}`);
  await page.locator('html[data-reloads]').waitFor({ state: 'attached' });
  return { device, page };
}

const states = ['Paling', 'Bleached', 'Receding', 'Pest'];

/** Notes lots, one after the other, while the network comes and goes, the page is reloaded, the session ends. */
async function walk({ device, page }: Tablet, { hall }: OfflineFarm, roundId: string, chance: () => number) {
  const codes = [hall.lots.A1.code, hall.lots.A2.code];
  for (let tap = 0; tap < 6; tap++) {
    if (chance() < 0.5) await device.setOffline(chance() < 0.6);
    if (chance() < 0.1) await device.clearCookies();
    if (chance() < 0.2) await page.goto(`/rounds/${roundId}/racks/${hall.window}`).catch(() => undefined);
    if (new URL(page.url()).pathname.startsWith('/sign-in')) return;
    const row = page.locator('[data-plate][data-first]', { hasText: codes[tap % 2] ?? '' });
    await row.tap().catch(async (error: Error) => {
      throw new Error(`no rack at ${page.url()}: ${await page.locator('body').textContent()}`, {
        cause: error,
      });
    });
    await page
      .locator('.lot-sheet')
      .getByText(states[Math.floor(chance() * states.length)] ?? 'Pest', { exact: true })
      .tap();
    await page.locator('[data-done]').tap();
  }
}

const waitingOn = (page: Page) => page.locator('[data-sent]').textContent();

/** The network is back, somebody signs in again and opens the round: until the foot says nothing any more. */
async function settle(
  { device, page }: Tablet,
  person: { email: string; password: string } | undefined,
  roundId: string,
): Promise<void> {
  await device.setOffline(false);
  const signedOut =
    !(await device.cookies()).some(({ name }) => name === 'evenwater') || page.url().includes('/sign-in');
  if (signedOut && person !== undefined) {
    const other = await device.newPage();
    await other.goto('/sign-in');
    if (other.url().includes('/sign-in')) await signIn(other, person);
  }
  if ((await page.locator('[data-sent]').count()) === 0) await page.goto(`/rounds/${roundId}`);
  for (let i = 0; i < 100 && (await waitingOn(page)) !== ''; i++) {
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await page.waitForTimeout(100);
  }
}

const tappedOn = (page: Page) =>
  page.evaluate(() => JSON.parse(localStorage.getItem('tapped') ?? '[]') as { id: string; kind: string }[]);
