import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { expectNoAxeViolations, listen, openDevice, signIn, startBrowser } from '../support/browser.ts';
import { type DemoBench, demoNow, startDemoBench } from '../support/demo-bench.ts';

// The main job once through, on a tablet by touch and on a phone: what the people of a farm do in a day.

let bench: DemoBench;
let browser: Browser;
let address: string;
let tablet: BrowserContext;
let page: Page;

beforeAll(async () => {
  bench = await startDemoBench();
  address = await listen(bench);
  browser = await startBrowser();
  tablet = await openDevice(browser, address, { size: 'tablet', touch: true });
  page = await tablet.newPage();
});
afterAll(async () => {
  await browser.close();
  await bench.close();
});

const textOf = async (selector: string) => (await page.locator(selector).textContent()) ?? '';
const minutes = (n: number) => bench.at(new Date(demoNow.getTime() + n * 60_000));

async function calmSystem(): Promise<{ id: string; name: string }> {
  return bench.service.db.system.findUniqueOrThrow({ where: { id: bench.truth.calmSystemId } });
}

const newestReading = (systemId: string) =>
  bench.service.db.reading.findFirstOrThrow({ where: { systemId }, orderBy: { createdAt: 'desc' } });

async function enterAlkalinity(systemId: string, typed: string, afterMinutes: number): Promise<void> {
  minutes(afterMinutes);
  await page.goto(`/water/systems/${systemId}/readings/new`);
  await page.getByRole('textbox', { name: 'Alkalinity', exact: true }).fill(typed);
  await page.getByRole('button', { name: 'Save the readings' }).tap();
  await page.waitForURL((url) => !url.pathname.endsWith('/new'));
}

describe('a day on the farm', () => {
  test('begins with signing in', async () => {
    await signIn(page, bench.person('manager'));
    await expectNoAxeViolations(page);
    expect(await page.title()).toContain('Today');
  });

  test('a surprising test is asked for again at once, and the repeat that agrees brings the alert', async () => {
    const system = await calmSystem();
    await enterAlkalinity(system.id, '6,1', 10);
    expect((await textOf('main')).toLowerCase()).toContain('again');
    expect(await newestReading(system.id)).toMatchObject({ trust: 'unconfirmed', enteredText: '6,1' });
    await enterAlkalinity(system.id, '6.1', 20);
    expect(await newestReading(system.id)).toMatchObject({ trust: 'confirmed' });
    const alerts = 'SELECT 1 FROM open_alert WHERE system_id = $1';
    await expect.poll(async () => (await bench.service.pool.query(alerts, [system.id])).rows).not.toEqual([]);
    await page.goto('/watch');
    expect(await textOf('main')).toContain(`${system.name}: alkalinity`);
  });

  test('a round is walked rack by rack with one exception, in one tap and in two', async () => {
    await page.goto('/rounds');
    await page.getByRole('button', { name: /begin/i }).first().tap();
    await page.waitForURL(/\/racks\//);
    await expectNoAxeViolations(page);
    await page.waitForLoadState('networkidle');
    await page.locator('.plate').first().tap();
    await page.locator('.lot-sheet').getByText('Paling', { exact: true }).tap();
    await page.locator('.lot-sheet').getByText('a little').tap();
    await page.locator('[data-done]').tap();
    await page.locator('[data-well]').tap();
    const roundId = /rounds\/([0-9a-f-]{36})/.exec(page.url())?.[1] ?? '';
    const kinds = async () =>
      (await bench.service.db.roundEntry.findMany({ where: { roundId } })).map(({ kind }) => kind);
    await expect.poll(kinds).toHaveLength(2);
    expect((await kinds()).sort()).toEqual(['condition', 'rack_well']);
    const noted = await bench.service.db.condition.findFirstOrThrow({ orderBy: { createdAt: 'desc' } });
    expect(noted).toMatchObject({ state: 'paling', grade: 1 });
  });

  test('the digest says first what is decided', async () => {
    await page.goto('/digest');
    const said = await textOf('article');
    const order = ['Act now', 'South hall: alkalinity swings'].map((words) => said.indexOf(words));
    expect(order).not.toContain(-1);
    expect(order).toEqual([...order].sort((a, b) => a - b));
    expect(said).toContain('nitrate is rising');
  });

  test('a tag is issued, and the buyer reads it on a phone without signing in', async () => {
    const lot = await bench.service.db.lot.findFirstOrThrow({
      where: {
        pieces: { gt: 2 },
        placements: {
          some: {
            toAt: null,
            slots: { some: { slot: { rack: { tank: { systemId: bench.truth.calmSystemId } } } } },
          },
        },
      },
      orderBy: { code: 'asc' },
    });
    await page.goto(`/tags/new?lot=${lot.code}`);
    await page.getByLabel('Pieces', { exact: true }).fill('1');
    // Its water was found too high this morning.
    await page.getByLabel('Why its pieces are tagged').fill('The buyer keeps it as high');
    await page.getByRole('button', { name: 'Issue the tag' }).tap();
    await page.waitForURL(/\/tags\/[0-9a-f-]{36}/);
    const path = (await page.getByRole('link', { name: /\/t\// }).getAttribute('href')) ?? '';
    const phone = await openDevice(browser, address, { size: 'phone', touch: true });
    const buyer = await phone.newPage();
    const answer = await buyer.goto(path);
    expect(answer?.status()).toBe(200);
    expect(await phone.cookies()).toEqual([]);
    expect(await buyer.locator('main').textContent()).toContain('unchanged since');
    await expectNoAxeViolations(buyer);
    await buyer.getByLabel('PAR where it will stand').fill('220');
    await buyer.getByRole('button', { name: 'Show the days' }).first().tap();
    await buyer.waitForURL(/light=220/);
    const plan = (await buyer.locator('main').textContent()) ?? '';
    const heights = [...plan.matchAll(/(?:Days|From day) (\d+)[^:]*: at the place you chose, about (\d+)/g)];
    const steps = heights.map(([, day, par]) => ({ day: Number(day), par: Number(par) }));
    const { record } = await bench.service.db.tag.findFirstOrThrow({ where: { lotId: lot.id } });
    const { light, care } = JSON.parse(record as string) as {
      light: { par: number };
      care: { stepRatio: number; dwellDays: number };
    };
    expect(steps.length).toBeGreaterThan(1);
    expect(plan).toMatch(/From day \d+: at the place you chose, about 220, to stay/);
    // No step is larger than the record says this kind bears; figures are shown whole, so a half is lost on each side.
    for (const [i, { day, par }] of steps.entries()) {
      const before = steps[i - 1] ?? { day: 1 - care.dwellDays, par: light.par };
      expect((par - 0.5) / (before.par + 0.5)).toBeLessThanOrEqual(care.stepRatio);
      expect(day - before.day).toBe(care.dwellDays);
    }
    await phone.close();
  });
});
