import { type AddressInfo, connect, createServer, type Socket } from 'node:net';
import type { Browser, BrowserContext, Page, Route } from 'playwright-core';
import sharp from 'sharp';
import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { drawRack } from '../../seed/demo/rack-photographs/drawing.ts';
import { hashPassword } from '../../src/people/passwords.ts';
import { localDay } from '../../src/platform/days.ts';
import { beginStocktake, closeStocktake } from '../../src/stock/stocktakes/stocktakes.ts';
import { planRoutine } from '../../src/water/routines/routines.ts';
import { begin, type Hall, makeHall, planRound, zone } from '../rounds/hall.ts';
import { boxOf } from '../support/boxes.ts';
import {
  expectNoAxeViolations,
  goOnSignedIn,
  listen,
  longestWaitMs,
  openDevice,
  signIn,
  startBrowser,
} from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

const person = { email: 'nor@example.org', password: 'wet hands at the rack' };
let bench: Bench;
let browser: Browser;
let address: string;
beforeAll(async () => {
  // The browser's own clock runs, so the service's must show the same time.
  bench = await startBench({ watching: false, running: true });
  await makeHall(bench);
  const passwordHash = await hashPassword(person.password);
  await bench.service.db.account.create({
    data: { name: 'Nor Abell', email: person.email, passwordHash, role: 'hand' },
  });
  browser = await startBrowser();
  address = await listen(bench);
});
afterAll(async () => {
  await browser?.close();
  await bench?.close();
});

/** A way to the service that can be made to pass on nothing any more, as poor Wi-Fi does, or to say that it is down. */
async function stallingLine(
  to: string,
): Promise<{ address: string; asked: string[]; stall(): void; fail(): void; close(): void }> {
  const ends: Socket[] = [];
  const asked: string[] = [];
  let [stalled, failing] = [false, false];
  const line = createServer((near) => {
    const far = connect(Number(new URL(to).port), '127.0.0.1');
    ends.push(near, far);
    for (const end of [near, far]) end.on('error', () => undefined);
    near.on('data', (chunk) => {
      const [, path] = /^GET (\S+)/.exec(chunk.toString('latin1')) ?? [];
      if (path !== undefined) asked.push(path);
      if (failing)
        near.end('HTTP/1.1 503 Service Unavailable\r\ncontent-length: 0\r\nconnection: close\r\n\r\n');
      else if (!stalled) far.write(chunk);
    });
    far.on('data', (chunk) => stalled || near.write(chunk));
  });
  await new Promise<void>((resolve) => line.listen(0, '127.0.0.1', resolve));
  return {
    address: `http://127.0.0.1:${(line.address() as AddressInfo).port}`,
    asked,
    stall: () => {
      stalled = true;
    },
    fail: () => {
      failing = true;
    },
    close: () => {
      for (const end of ends) end.destroy();
      line.close();
    },
  };
}

/** A water change of 180 L, due today. */
const planChange = ({ systemId }: Hall) =>
  bench.change((work) =>
    planRoutine(work, systemId, {
      work: 'water_change',
      volume: 180,
      volumeUnit: 'L',
      weekdays: [],
      everyDays: 7,
      startsOn: localDay(new Date(), zone),
      version: 0,
    }),
  );

describe('a round on a tablet', () => {
  let hall: Hall;
  let roundId: string;
  let device: BrowserContext;
  let page: Page;
  const rack = (id: string) => `/rounds/${roundId}/racks/${id}`;
  const plate = (code: string) => page.locator('[data-plate][data-first]', { hasText: code });
  const sheet = () => page.locator('.lot-sheet');
  const foot = () => page.locator('[data-sent]');
  const entries = () =>
    bench.service.db.roundEntry.findMany({ where: { roundId }, orderBy: [{ at: 'asc' }, { id: 'asc' }] });
  /** The lot, what is seen, then done: three taps. */
  const note = async (code: string, state: string, more: () => Promise<unknown> = async () => undefined) => {
    await plate(code).tap();
    await sheet().getByText(state, { exact: true }).tap();
    await more();
    await sheet().getByRole('button', { name: 'Done' }).tap();
  };

  /** Waits until the tablet has the whole round and can load its pages again without a network. */
  const kept = () => page.locator('html[data-reloads]').waitFor({ state: 'attached' });
  /** Has the screen drawn anew, as it is where somebody else noted something. */
  const redrawn = async () => {
    await page.route('**/latest', (route) => route.fulfill({ json: { latest: 'another' } }), { times: 1 });
    await page.evaluate(() => {
      document.querySelector('main h1')?.setAttribute('data-old', '');
      document.dispatchEvent(new Event('visibilitychange'));
    });
    await page.locator('main h1[data-old]').waitFor({ state: 'detached' });
  };
  /** Waits until something noted of this lot is written down on the tablet: only then does its row say so. */
  const written = (code: string) => page.locator('.plate.noted', { hasText: code }).waitFor();

  beforeEach(async () => {
    hall = await makeHall(bench);
    const today = localDay(new Date(), zone);
    roundId = await begin(bench, hall, await planRound(bench, hall, { startsAt: '00:00' }), today);
    device = await openDevice(browser, address, { size: 'tablet', touch: true });
    page = await device.newPage();
    await goOnSignedIn(page, address, person);
    await page.goto(rack(hall.window));
    await kept();
    return () => device.close();
  });

  test('goes on without a network, and what was tapped arrives once and in order when it is back', async () => {
    await device.setOffline(true);
    await note(hall.lots.A1.code, 'Bleached', () => sheet().getByText('about a third').tap());
    await page.getByRole('button', { name: 'All others well' }).tap();
    await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
    expect(page.url()).toContain(hall.wall);
    await note(hall.lots.B1.code, 'Receding');
    await page.getByRole('button', { name: 'Rack looked at' }).tap();
    await expect.poll(() => foot().textContent()).toContain('4 not sent yet.');
    await expect.poll(() => foot().textContent()).toContain('kept on this tablet');
    await expect.poll(() => page.locator('[data-progress]').textContent()).toBe('2 of 2 racks');
    await expectNoAxeViolations(page);
    expect(await entries()).toEqual([]);

    await device.setOffline(false);
    await expect.poll(() => foot().textContent()).toBe('');
    const noted = await entries();
    expect(noted.map(({ kind, lotId, rackId }) => [kind, lotId ?? rackId])).toEqual([
      ['condition', hall.lots.A1.id],
      ['rack_well', hall.window],
      ['condition', hall.lots.B1.id],
      ['rack_well', hall.wall],
    ]);
    const conditions = await bench.service.db.condition.findMany({
      where: { lotId: { in: [hall.lots.A1.id, hall.lots.B1.id] } },
      orderBy: { at: 'asc' },
    });
    expect(conditions).toMatchObject([
      { state: 'bleached', grade: 2 },
      { state: 'receding', grade: null },
    ]);
  });

  test.each([120, 250, 500])(
    'takes no second tap, %d ms after the first, for a rack that nobody has seen',
    async (ms) => {
      await device.setOffline(true);
      const all = page.getByRole('button', { name: 'All well' });
      const { x, y } = await boxOf(all);
      await page.waitForTimeout(1000);
      await page.touchscreen.tap(x + 40, y + 20);
      await page.waitForTimeout(ms);
      await page.touchscreen.tap(x + 40, y + 20);
      await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
      await expect.poll(() => foot().textContent()).toContain('1 not sent yet.');
      // It listens again once the rack was there to be seen.
      await all.tap();
      await expect.poll(() => foot().textContent()).toContain('2 not sent yet.');
      // Loaded anew without a network, the rack says that it was looked at, and by which tap to take that back.
      await page.goto(rack(hall.wall));
      await page.locator('[data-looked]').getByText('kept on this tablet').waitFor();
      await page.getByRole('button', { name: 'Undo: Wall rack' }).first().tap();
      await page.locator('[data-looked]').waitFor({ state: 'detached' });
      await device.setOffline(false);
      await expect
        .poll(async () => (await entries()).map(({ kind, rackId }) => [kind, rackId]))
        .toContainEqual(['rack_well', hall.window]);
      await expect.poll(() => foot().textContent()).toBe('');
      expect((await entries()).filter(({ kind }) => kind === 'rack_well')).toHaveLength(1);
    },
  );

  test('says in the open sheet that pieces cannot be 2,5, and leaves a lot out of "well" whose note was not taken', async () => {
    const { id, code } = hall.lots.A1;
    const pieces = () => sheet().getByLabel(/How many of the 5 pieces/);
    const done = () => sheet().getByRole('button', { name: 'Done' }).tap();
    await plate(code).tap();
    await sheet().getByText('Lost', { exact: true }).tap();
    await pieces().fill('2,5');
    await done();
    await sheet().getByText('Enter a whole number of pieces, like 3.').waitFor();
    await pieces().fill('5');
    await done();
    await sheet().getByText('Enter how many are left: fewer than the 5 there were.').waitFor();
    await pieces().fill('2,5');
    // A tap beside the sheet closes it with what stands there.
    await page.locator('.round-head h1').tap({ force: true });
    await expect.poll(() => foot().textContent()).toContain('1 note not taken.');
    await expect.poll(() => plate(code).getAttribute('aria-label')).toContain('note not taken');
    await expect
      .poll(() => page.locator('[data-well]').textContent())
      .toMatch(/All others well\s+1 other lot: well; 1 lot with a note not taken: nothing/);
    await page.getByRole('button', { name: 'All others well' }).tap();
    await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
    await expect
      .poll(async () => (await entries()).map(({ kind }) => kind))
      .toEqual(['refused', 'rack_well']);
    const looks = () => bench.service.pool.query('SELECT state FROM lot_look WHERE lot_id = $1', [id]);
    expect((await looks()).rows).toEqual([]);
  });

  test('loads its page anew on the way to the next rack once the service was updated, and keeps what was tapped', async () => {
    const updated = async (route: Route) => {
      const answer = await route.fetch();
      await route.fulfill({ response: answer, json: { ...(await answer.json()), script: 'another' } });
    };
    await page.route(/\/api\/rounds\/[^/]+(\?|$)/, updated);
    await page.evaluate(() => document.documentElement.setAttribute('data-before', ''));
    await redrawn();
    await note(hall.lots.A1.code, 'Bleached', () => sheet().getByText('about a third').tap());
    await page.getByRole('button', { name: 'All others well' }).tap();
    await page.locator('html:not([data-before])').waitFor({ state: 'attached' });
    await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
    await page.unrouteAll({ behavior: 'ignoreErrors' });
    expect(page.url()).toContain(hall.wall);
    // Its foot is empty until the page has read what is still to be sent.
    const kinds = async () => (await entries()).map(({ kind }) => kind);
    await expect.poll(kinds).toEqual(['condition', 'rack_well']);
    await expect.poll(() => foot().textContent()).toBe('');
  });

  test('cut off on one of two tablets, reloaded and signed out in between, each entry of both is there once and in order', async () => {
    const other = await openDevice(browser, address, { size: 'tablet', touch: true });
    const second = await other.newPage();
    await signIn(second, person);
    await second.goto(rack(hall.wall));
    await device.setOffline(true);
    const buffer = await sharp({ create: { width: 40, height: 30, channels: 3, background: '#845' } })
      .png()
      .toBuffer();
    await note(hall.lots.A1.code, 'Paling', async () => {
      await page.locator('[data-photo]').setInputFiles({ name: 'a1.png', mimeType: 'image/png', buffer });
      await page.getByText('1 photo kept').waitFor();
    });
    await page.getByRole('button', { name: 'All others well' }).tap();
    await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
    await second.getByRole('button', { name: 'All well' }).tap();
    await page.goto(`/rounds/${roundId}/systems/${hall.systemId}`);
    await page.getByRole('link', { name: 'Enter tests' }).tap();
    for (const key of ['8', 'Decimal point', '3'])
      await page.locator('.pad').getByRole('button', { name: key }).tap();
    await page.getByRole('button', { name: 'Save, next: calcium' }).tap();
    await page.getByRole('link', { name: 'Back to' }).tap();
    await page.getByText('8.3 dKH just noted').waitFor();
    await page.goto(`/rounds/${roundId}/end`);
    await page.getByRole('button', { name: 'Finish the round' }).tap();
    await page.getByText(/Finished at/).waitFor();
    await expect.poll(() => foot().textContent()).toContain('4 and 1 photo not sent yet.');
    await device.clearCookies();
    await device.setOffline(false);
    await expect.poll(() => foot().textContent()).toContain('Sign in again; nothing is lost.');
    await signIn(await device.newPage(), person);
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await expect.poll(() => foot().textContent()).toBe('');
    const own = (await entries()).filter(({ rackId }) => rackId !== hall.wall);
    expect(own.map(({ kind }) => kind)).toEqual(['condition', 'rack_well', 'reading', 'finished']);
    expect(await entries()).toHaveLength(5);
    const photos = await bench.service.db.photo.findMany({ where: { lotId: hall.lots.A1.id } });
    expect(photos.map(({ roundEntryId }) => roundEntryId)).toEqual([own[0]?.id]);
    await other.close();
  });

  test('racks are counted for a stocktake without a network, in order, and what was counted by mistake is taken back', async () => {
    const { id } = await bench.change((work) =>
      beginStocktake(work, hall.siteId, {
        ...{ name: 'Tonight', rackIds: [hall.window, hall.wall], hidden: true, twoPeople: false },
      }),
    );
    const counts = async () =>
      (
        await bench.service.db.stocktakeCount.findMany({
          where: { line: { stocktakeId: id }, voidedAt: null },
        })
      ).map(({ pieces, expected }) => [pieces, expected]);
    await page.goto(`/rounds/${roundId}/racks/${hall.window}`);
    await kept();
    const drawn = await boxOf(page.locator('.plates-view'));
    const count = await boxOf(page.getByRole('link', { name: 'Count this rack' }));
    expect(count.height).toBeGreaterThanOrEqual(48);
    expect(drawn.y - (count.y + count.height), 'the rack begins right beneath the link').toBeLessThan(16);
    await page.goto(`/rounds/${roundId}`);
    await kept();
    await page.locator('[data-count-rack]', { hasText: 'Window rack' }).getByRole('link').waitFor();
    await device.setOffline(true);
    await page.locator('[data-count-rack]', { hasText: 'Window rack' }).getByRole('link').tap();
    await page.getByRole('heading', { name: 'Count Window rack' }).waitFor();
    await expectNoAxeViolations(page);
    expect(await page.locator('#shelf-count').textContent()).not.toContain('recorded');
    await page.getByLabel(`Pieces of ${hall.lots.A1.code}`).fill('9');
    await page.getByRole('button', { name: 'Keep these counts' }).tap();
    await page.getByRole('heading', { name: 'Count Wall rack' }).waitFor();
    await page.getByRole('button', { name: 'Undo: Window rack' }).tap();
    await page.getByRole('heading', { name: 'Count Window rack' }).waitFor();
    await page.getByLabel(`Pieces of ${hall.lots.A1.code}`).fill('4');
    await page.getByLabel(`Pieces of ${hall.lots.A2.code}`).fill('1');
    await page.getByRole('button', { name: 'Keep these counts' }).tap();
    await page.getByRole('heading', { name: 'Count Wall rack' }).waitFor();
    await page.getByRole('link', { name: 'Back to the rack before' }).tap();
    await page.getByText('4 counted, just noted').waitFor();
    expect(await counts()).toEqual([]);
    await device.setOffline(false);
    await expect.poll(() => foot().textContent()).toBe('');
    expect(await counts()).toEqual([
      [4, 5],
      [1, 1],
    ]);
    await page.getByText('4 counted, 5 recorded').waitFor();
    await bench.change((work) => closeStocktake(work, id, ''));
  });

  test('an answer that never came back makes no second entry', async () => {
    let lost = 0;
    await page.route('**/api/rounds/*/entries', async (route) => {
      // The service takes it; the tablet never hears of it.
      if (lost++ === 0) {
        await route.fetch();
        await route.abort();
      } else await route.continue();
    });
    await note(hall.lots.A1.code, 'Paling');
    await page.getByRole('button', { name: 'All others well' }).tap();
    await expect.poll(() => lost).toBeGreaterThan(1);
    await expect.poll(() => foot().textContent()).toBe('');
    expect(await bench.service.db.condition.count({ where: { lotId: hall.lots.A1.id } })).toBe(1);
    expect(await entries()).toHaveLength(2);
  });

  test('what waits outlives the page', async () => {
    await page.route('**/api/**', (route) => route.abort());
    await note(hall.lots.A1.code, 'Pest');
    await expect.poll(() => foot().textContent()).toContain('1 not sent yet.');
    await page.unroute('**/api/**');
    await page.reload();
    await expect.poll(async () => (await entries()).length).toBe(1);
    await expect.poll(() => page.locator('li.noted').textContent()).toContain('pest');
  });

  test('photographs of a rack taken without a network outlive the page, are read once, and what came of them is said', async () => {
    const { rows, columns } = await bench.service.db.rack.findUniqueOrThrow({ where: { id: hall.window } });
    const jpeg = await drawRack({ id: hall.window, rows: Math.max(rows, 4), columns, pieces: [], seed: 1 });
    const blank = await sharp({ create: { width: 800, height: 600, channels: 3, background: '#467' } })
      .jpeg()
      .toBuffer();
    const files = [jpeg, blank].map((buffer, i) => ({ name: `${i}.jpg`, mimeType: 'image/jpeg', buffer }));
    await device.setOffline(true);
    await page.locator('input[data-rack-photo]').setInputFiles(files);
    const waiting = page.locator('[data-rack-photos-waiting]');
    await expect.poll(() => waiting.textContent()).toContain('2 photographs are kept on this tablet');
    await page.reload();
    await expect.poll(() => waiting.textContent()).toContain('2 photographs are kept on this tablet');
    await device.setOffline(false);
    const said = page.locator('.rack-taking');
    await expect.poll(() => said.textContent()).toContain('Not read. No corner card');
    expect(await bench.service.db.rackPhotograph.count({ where: { rackId: hall.window } })).toBe(1);
    await expect.poll(() => foot().textContent()).toContain('1 photo not taken.');
    await page.goto(`/rounds/${roundId}/end`);
    await page.getByRole('button', { name: 'Leave it out' }).tap();
    await expect.poll(() => foot().textContent()).toBe('');
    await page.goto(rack(hall.window));
    await expectNoAxeViolations(page);
  });

  test('is loaded again without a network, on any of its racks', async () => {
    await note(hall.lots.A1.code, 'Paling');
    await written(hall.lots.A1.code);
    await device.setOffline(true);
    await page.reload();
    await expect.poll(() => page.locator('li.noted').textContent()).toContain('paling');
    await page.goto(rack(hall.wall));
    await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
    await note(hall.lots.B1.code, 'Pest');
    await device.setOffline(false);
    await expect.poll(() => foot().textContent()).toBe('');
    expect((await entries()).map(({ kind }) => kind)).toEqual(['condition', 'condition']);
  });

  test('is loaded again from the tablet where the network is there but the service does not answer, or not well', async () => {
    const stalling = await stallingLine(address);
    const far = await openDevice(browser, stalling.address, { size: 'tablet', touch: true });
    page = await far.newPage();
    await signIn(page, person);
    await page.goto(rack(hall.window));
    await kept();
    // Now that the worker answers, a page is drawn once, and what has a mark of its content is not asked for again.
    const before = stalling.asked.length;
    await page.goto(rack(hall.wall));
    await kept();
    const since = stalling.asked.slice(before);
    expect(since.filter((path) => path === rack(hall.wall))).toHaveLength(1);
    expect(since.filter((path) => path.includes('?v='))).toEqual([]);
    await page.goto(rack(hall.window));
    await kept();
    stalling.stall();
    await page.goto(rack(hall.wall));
    await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
    stalling.fail();
    await page.goto(rack(hall.window));
    await page.getByRole('heading', { name: 'Window rack' }).waitFor();
    await far.close();
    stalling.close();
  });

  test('a session that ran out is said, and nothing is lost', async () => {
    await device.clearCookies();
    await note(hall.lots.A1.code, 'Paling');
    await expect.poll(() => foot().textContent()).toContain('Sign in again; nothing is lost.');
    const other = await device.newPage();
    await signIn(other, person);
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await expect.poll(() => foot().textContent()).toBe('');
    expect(await entries()).toHaveLength(1);
  });

  test('what the service refuses is shown for a person to put right', async () => {
    await note(hall.lots.A1.code, 'Other');
    await expect.poll(() => foot().textContent()).toContain('1 note not taken.');
    await page.getByRole('link', { name: 'Put right' }).tap();
    await page.getByText('Say in the note what you saw.').waitFor();
    await page.getByRole('link', { name: 'Enter it again' }).tap();
    await page.getByText('Other', { exact: true }).tap();
    await page.getByLabel('Note').fill('a snail sits on it');
    await page.getByRole('button', { name: 'Note it' }).tap();
    await page.getByRole('heading', { name: 'Window rack' }).waitFor();
    await expect.poll(() => foot().textContent()).toBe('');
    expect(await bench.service.db.condition.findMany({ where: { lotId: hall.lots.A1.id } })).toMatchObject([
      { state: 'other', note: 'a snail sits on it' },
    ]);
  });

  test('one note that the service will not have at all is set aside on the tablet, for a person to change or leave out', async () => {
    await page.route('**/api/rounds/*/entries', async (route) => {
      const poison = /"note":"(sleet|hail)/.test(route.request().postData() ?? '');
      if (!poison) return route.continue();
      const problem = { status: 422, detail: 'This cannot be read.' };
      return route.fulfill({
        status: 422,
        contentType: 'application/problem+json',
        body: JSON.stringify(problem),
      });
    });
    const noteBoth = async (lot: string, words: string) => {
      await note(lot, 'Pest', () => sheet().getByLabel('Note').fill(words));
    };
    await device.setOffline(true);
    await noteBoth(hall.lots.A1.code, 'sleet on it');
    await noteBoth(hall.lots.A2.code, 'hail on it');
    await page.getByRole('button', { name: 'Rack looked at' }).tap();
    await device.setOffline(false);
    await expect.poll(() => foot().textContent()).toContain('2 notes not taken.');
    await expect.poll(async () => (await entries()).map(({ kind }) => kind)).toEqual(['rack_well']);
    await page.reload();
    await page.getByRole('link', { name: 'Put right' }).tap();
    const aside = (lot: string) => page.locator('[data-refused-here] li', { hasText: lot });
    await aside(hall.lots.A1.code).getByText('This cannot be read. Only this tablet holds it.').waitFor();
    await expectNoAxeViolations(page);
    const other = aside(hall.lots.A2.code);
    await other.getByText('Leave it out').tap();
    // Drawn anew behind somebody's hands, what they opened stays open.
    await redrawn();
    await other.getByLabel('Why it is left out').fill('seen wrongly');
    await aside(hall.lots.A1.code).getByText('Change it').tap();
    await aside(hall.lots.A1.code).getByLabel('Note').fill('worms on it');
    await aside(hall.lots.A1.code).getByRole('button', { name: 'Send it changed' }).tap();
    // What was sent leaves the list; what is open and typed in another row stays.
    await aside(hall.lots.A1.code).waitFor({ state: 'detached' });
    await other.getByRole('button', { name: 'Leave out' }).tap();
    await expect.poll(() => foot().textContent()).toBe('');
    await expect.poll(() => page.locator('[data-refused-here] li').count()).toBe(0);
    const lots = Object.values(hall.lots).map(({ id }) => id);
    expect(await bench.service.db.condition.findMany({ where: { lotId: { in: lots } } })).toMatchObject([
      { lotId: hall.lots.A1.id, state: 'pest', note: 'worms on it' },
    ]);
    await page.getByRole('heading', { name: 'Notes left out' }).waitFor();
    await page.getByText('seen wrongly').waitFor();
  });

  test('feeding without a network starts the pumps’ time on the tablet', async () => {
    await page.goto(`/rounds/${roundId}/systems/${hall.systemId}`);
    await kept();
    await device.setOffline(true);
    await page.getByLabel('Food').fill('Fine food');
    await page.getByLabel('Pumps off for').fill('20');
    await page.getByRole('button', { name: 'Fed' }).tap();
    await expect.poll(() => page.locator('.timer .val').textContent()).toMatch(/^(20:00|19:\d\d)$/);
    await page.getByRole('button', { name: 'The pumps are on again' }).tap();
    await device.setOffline(false);
    await expect.poll(() => foot().textContent()).toBe('');
    const [feeding] = await bench.service.db.feeding.findMany({ where: { systemId: hall.systemId } });
    const off = await bench.service.db.switchedOff.findUniqueOrThrow({
      where: { feedingId: feeding?.id ?? '' },
    });
    expect(off.seenRunningAt).not.toBeNull();
  });

  test('due work ticked off without a network is logged once, with the amount it was done with, when it is back', async () => {
    await planChange(hall);
    await page.goto(`/rounds/${roundId}/systems/${hall.systemId}`);
    await kept();
    const task = page.locator('[data-task]', { hasText: 'Change 180 L of water' });
    await device.setOffline(true);
    await task.getByLabel('Amount').fill('160');
    await task.getByRole('button', { name: /^Done/ }).tap();
    await expect.poll(() => task.textContent()).toContain('done, just noted');
    await expect.poll(() => task.getByRole('button').count()).toBe(0);
    expect(await bench.service.db.waterChange.count({ where: { systemId: hall.systemId } })).toBe(0);
    await device.setOffline(false);
    await expect.poll(() => foot().textContent()).toBe('');
    const changes = await bench.service.db.waterChange.findMany({ where: { systemId: hall.systemId } });
    expect(changes.map(({ volumeL }) => volumeL)).toEqual([160]);
    await expect.poll(() => task.getAttribute('class')).toContain('done');
  });

  test('what was tapped wrongly is taken back in place: unsent it never goes, sent it is undone, without a network too', async () => {
    const [a1, a2] = [hall.lots.A1, hall.lots.A2];
    await bench.service.db.condition.create({
      data: { lotId: a2.id, at: new Date(Date.now() - 86_400_000), state: 'paling', grade: 1 },
    });
    await page.reload();
    await kept();
    const button = () => page.locator('[data-well]').textContent();
    await expect.poll(button).toContain('1 lot sick: no worse; 1 other lot: well');
    const looks = () =>
      bench.service.db.condition.findMany({
        where: { lotId: { in: [a1.id, a2.id] }, voidedAt: null },
        orderBy: { at: 'asc' },
      });
    await device.setOffline(true);
    await note(a1.code, 'Bleached');
    await expect.poll(() => plate(a1.code).getAttribute('class')).toMatch(/noted now/);
    await page.getByRole('button', { name: `Undo: ${a1.code}` }).tap();
    await page.locator('.plate.noted').waitFor({ state: 'detached' });
    await expect.poll(button).toContain('1 lot sick: no worse; 1 other lot: well');
    // As before takes two taps, and is drawn and kept at once.
    await plate(a2.code).tap();
    await sheet().getByText('As before', { exact: true }).tap();
    await sheet().waitFor({ state: 'detached' });
    await expect
      .poll(() => plate(a2.code).getAttribute('aria-label'))
      .toContain('paling, a little, no worse');
    await device.setOffline(false);
    await expect
      .poll(async () => (await looks()).map(({ compared }) => compared))
      .toEqual([null, 'as_before']);
    expect((await entries()).map(({ kind }) => kind)).toEqual(['taken_back', 'take_back', 'condition']);
    await expect.poll(() => foot().textContent()).toBe('');

    await device.setOffline(true);
    await plate(a2.code).tap();
    await sheet().getByRole('button', { name: 'Undo' }).tap();
    await expect.poll(button).toContain('1 lot sick: no worse; 1 other lot: well');
    await page.locator('[data-view="list"]').tap();
    await page.getByRole('heading', { name: 'Sick at the last look' }).waitFor();
    await page.getByRole('button', { name: 'All as before' }).tap();
    await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
    // The list stays chosen on this tablet.
    await page.locator('li[data-lot]').first().waitFor();
    await page.locator('.plate').first().waitFor({ state: 'hidden' });
    await device.setOffline(false);
    await expect
      .poll(async () => (await entries()).map(({ kind }) => kind))
      .toEqual(['taken_back', 'take_back', 'taken_back', 'take_back', 'rack_well']);
    expect((await looks()).map(({ compared }) => compared)).toEqual([null, 'as_before']);
    await page.getByRole('button', { name: 'Undo: Window rack' }).tap();
    await page.getByRole('heading', { name: 'Window rack' }).waitFor();
    await expect.poll(async () => (await looks()).length).toBe(1);
    await expect.poll(() => page.locator('[data-progress]').textContent()).toBe('0 of 2 racks');
    await expectNoAxeViolations(page);
  });

  test('is walked by the keyboard alone', async () => {
    const focused = () => page.evaluate(() => document.activeElement?.getAttribute('aria-label'));
    await plate(hall.lots.A1.code).focus();
    await page.keyboard.press('ArrowRight');
    await expect.poll(focused).toContain(`A2, ${hall.lots.A2.code}`);
    expect(await focused()).toContain('nothing noted before');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Enter');
    await sheet().waitFor();
    await page.keyboard.press('Escape');
    await sheet().waitFor({ state: 'detached' });
    await expect.poll(focused).toContain(`A1, ${hall.lots.A1.code}`);
    await page.keyboard.press('Enter');
    await sheet().locator('input[name="state"]').first().focus();
    // Arrows go on and note nothing; Space notes.
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowLeft');
    expect(await page.locator('li.noted').count()).toBe(0);
    await page.keyboard.press('Space');
    await expect.poll(() => page.locator('li.noted').textContent()).toContain('paling');
    await page.locator('[data-done]').focus();
    await page.keyboard.press('Enter');
    await expect.poll(focused).toContain('noted on this round: paling');
    await page.locator('[data-well]').focus();
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: 'Wall rack' }).waitFor();
  });

  test('works by plain forms where scripts do not run', async () => {
    const plain = await browser.newContext({ baseURL: address, javaScriptEnabled: false });
    plain.setDefaultTimeout(longestWaitMs);
    const tab = await plain.newPage();
    await signIn(tab, person);
    await tab.goto(rack(hall.window));
    await tab.locator('li[data-lot]', { hasText: hall.lots.A1.code }).getByRole('link').click();
    await tab.getByText('Paling').click();
    await tab.getByRole('button', { name: 'Note it' }).click();
    await tab.getByRole('button', { name: 'All others well' }).click();
    await tab.getByRole('heading', { name: 'Wall rack' }).waitFor();
    expect(await entries()).toHaveLength(2);
    await plain.close();
  });
});

test('targets of the round are at least 48 px high', async () => {
  const hall = await makeHall(bench);
  await planChange(hall);
  const planId = await planRound(bench, hall, { startsAt: '00:00', name: `Small hands ${uuidv7()}` });
  const roundId = await begin(bench, hall, planId, localDay(new Date(), zone));
  const device = await openDevice(browser, address, { size: 'phone', touch: true });
  const page = await device.newPage();
  await signIn(page, person);
  const rack = `/rounds/${roundId}/racks/${hall.window}`;
  const system = `/rounds/${roundId}/systems/${hall.systemId}`;
  for (const path of [`/rounds/${roundId}`, rack, system, `/rounds/${roundId}/end`]) {
    await page.goto(path);
    await page.locator('html[data-reloads]').waitFor({ state: 'attached' });
    if (path === rack) {
      await page.locator('[data-plate]').first().tap();
      await page.locator('.lot-sheet').waitFor();
    }
    const [count, small] = await page.evaluate(() => {
      const targets = document.querySelectorAll<HTMLElement>(
        ':is(main, .lot-sheet) :is(a, button, input:not([type="hidden"], [type="radio"]), select, label.tile)',
      );
      const shown = [...targets]
        .map((target) => [target.outerHTML.slice(0, 80), target.getBoundingClientRect().height] as const)
        .filter(([, height]) => height > 0);
      return [shown.length, shown.filter(([, height]) => height < 47.5)] as const;
    });
    expect(count, path).toBeGreaterThan(0);
    expect(small, path).toEqual([]);
    await expectNoAxeViolations(page);
  }
  await device.close();
});
