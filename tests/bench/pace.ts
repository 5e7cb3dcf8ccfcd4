/**
 * How much a day asks of the hands: `npm run bench:pace`. A browser walks the demo's round on a tablet, with two exceptions
 * and the six tests of one system, then goes from each of the morning's matters to what it asks for. Prints taps, digits and
 * seconds at human pace, and what had to be scrolled to; ends with 1 where an aim is missed. EVENWATER_DEMO names a demo
 * that runs already, which is changed by it.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Locator, Page } from 'playwright-core';
import { demoPeople } from '../../seed/demo/people.ts';
import { openDevice, signIn, startBrowser } from '../support/browser.ts';
import { startProcess } from '../support/processes.ts';
import { Fingers } from './pace/fingers.ts';

/** The most that may be asked (own choice): taps of the round besides digits, seconds of six tests, taps to an action. */
const aims = { roundTaps: 40, testSeconds: 15, alertTaps: 3 };

const say = (line: string) => process.stdout.write(`${line}\n`);
const missed: string[] = [];
const hold = (aim: string, kept: boolean) => {
  if (!kept) missed.push(aim);
  say(`${kept ? 'kept  ' : 'MISSED'} ${aim}`);
};

async function personOn(browser: Browser, address: string, role: 'hand' | 'manager'): Promise<Fingers> {
  const person = demoPeople.find((one) => one.role === role);
  if (person === undefined) throw new Error(`nobody on the demo farm is ${role}`);
  const page = await (await openDevice(browser, address, { size: 'tablet', touch: true })).newPage();
  page.setDefaultTimeout(60_000);
  await signIn(page, person);
  return new Fingers(page);
}

/** A plate of the rack that shows, tapped, and what is seen on it chosen. The next tap beside the sheet closes it. */
async function noteException(hand: Fingers, state: string): Promise<void> {
  await hand.tap(hand.page.locator('.plate[data-first]').first());
  await hand.tap(hand.page.locator('dialog .tile', { hasText: state }));
}

/** Every test of the system, each as at the last time. */
async function sixTests(hand: Fingers): Promise<Fingers> {
  const { page } = hand;
  const own = new Fingers(page);
  if (!page.url().endsWith('/tests')) await hand.go(page.getByRole('link', { name: 'Enter tests' }));
  const stage = page.locator('.test-stage > .current');
  await stage.locator('.pad').waitFor();
  const count = await page.locator('.test-stage > li').count();
  for (let i = 0; i < count && own.taps < 6; i += 1) {
    const code = await stage.getAttribute('data-test');
    const said = (await stage.locator('.test-last').textContent()) ?? '';
    const last = /\d[\d,]*(?:\.\d+)?/.exec(said)?.[0]?.replaceAll(',', '');
    if (last === undefined) break;
    for (const digit of last) await stage.locator(`.pad [data-key="${digit}"]`).tap();
    own.digits += last.length;
    await own.tap(stage.locator('[data-note]'));
    await page.waitForFunction(
      (before) =>
        !location.pathname.endsWith('/tests') ||
        document.querySelector('.test-stage > .current')?.getAttribute('data-test') !== before,
      code,
    );
  }
  hand.taps += own.taps;
  hand.digits += own.digits;
  hand.hidden.push(...own.hidden);
  if (page.url().endsWith('/tests')) await hand.go(page.locator('.test-foot [data-next-rack]'));
  return own;
}

/** The round that waits on the demo farm, from the list of rounds to its end. */
async function walkRound(hand: Fingers): Promise<void> {
  const { page } = hand;
  await page.goto('/rounds');
  await hand.go(page.getByRole('button', { name: /^Begin.*Full walk/ }));
  await page.locator('html[data-reloads]').waitFor({ state: 'attached' });
  const exceptions = ['Paling', 'Pest'];
  let tests: Fingers | null = null;
  for (let screens = 0; screens < 100; screens += 1) {
    if (page.url().endsWith('/end')) break;
    if (page.url().includes('/racks/')) {
      const state = screens % 4 === 1 ? exceptions.shift() : undefined;
      if (state !== undefined) await noteException(hand, state);
      await hand.go(page.locator('[data-well]'));
    } else if (tests === null) tests = await sixTests(hand);
    else await hand.go(page.locator('.round-foot').locator('[data-next-rack], .button:not(.quiet)').first());
  }
  await hand.tap(page.locator('.round-foot .button').first());
  await page.getByRole('link', { name: 'All rounds' }).waitFor();
  say(
    `the round: ${hand.taps} taps besides ${hand.digits} digits, ${hand.seconds.toFixed(1)} s at human pace`,
  );
  hold(
    `at most ${aims.roundTaps} taps on the round, two exceptions and six tests in it`,
    hand.taps <= aims.roundTaps,
  );
  say(`six tests: ${tests?.taps} taps, ${tests?.digits} digits, ${tests?.seconds.toFixed(1)} s`);
  hold(
    `six tests in at most ${aims.testSeconds} s`,
    tests !== null && tests.taps === 6 && tests.seconds <= aims.testSeconds,
  );
  for (const what of hand.hidden) say(`  out of sight: ${what}`);
  hold('no scroll to reach a field, a lot or a button', hand.hidden.length === 0);
}

/** What each of the morning's matters asks for, done on its own page. */
async function actOnMatters(manager: Fingers): Promise<void> {
  const { page } = manager;
  const actions: [matter: string, taps: (page: Page) => Locator[]][] = [
    ['Turn by hand', (on) => [on.getByRole('button', { name: 'I turned them by hand' })]],
    [
      'Check doser',
      (on) => [
        on.getByRole('radio', { name: 'Air in the line' }),
        on.getByRole('button', { name: 'Save', exact: true }).first(),
      ],
    ],
    ['New kit', (on) => [on.getByRole('button', { name: 'Open the new kit' })]],
    ['Change routine', (on) => [on.getByRole('button', { name: /^Change the routine/ })]],
  ];
  for (const [matter, targets] of actions) {
    await page.goto('/digest');
    const before = manager.taps;
    await manager.go(page.locator('.matter').getByRole('link', { name: new RegExp(`^${matter}`) }));
    for (const target of targets(page)) await manager.tap(target);
    await page.locator('.notice').first().waitFor();
    const taps = manager.taps - before;
    hold(`"${matter} ...": ${taps} taps from the digest to done, no number typed`, taps <= aims.alertTaps);
  }
}

const folder = await mkdtemp(join(tmpdir(), 'evenwater-pace-'));
const running = process.env.EVENWATER_DEMO;
const demo =
  running === undefined ? startProcess('seed/demo.ts', [], { EVENWATER_DATA: folder, PORT: '0' }) : null;
const address = running ?? (await demo?.says(/ready: (http\S+)/, 600_000))?.[1] ?? '';
const browser = await startBrowser();
try {
  await walkRound(await personOn(browser, address, 'hand'));
  await actOnMatters(await personOn(browser, address, 'manager'));
} finally {
  await browser.close();
  if (demo !== null) {
    demo.child.kill('SIGTERM');
    await new Promise((done) => demo.child.once('exit', done));
  }
  await rm(folder, { recursive: true, force: true });
}
process.exitCode = missed.length === 0 ? 0 : 1;
