import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { boxOf } from '../support/boxes.ts';
import {
  expectNoAxeViolations,
  expectNoSideways,
  listen,
  openDevice,
  signIn,
  startBrowser,
} from '../support/browser.ts';
import { type DemoBench, digestOnceSettled, evaluationsDone, startDemoBench } from '../support/demo-bench.ts';

// From each of the demo's four alerts to what it asks for, done: at most three taps, and no number carried in the head.

let bench: DemoBench;
let browser: Browser;
let page: Page;
let taps = 0;

beforeAll(async () => {
  bench = await startDemoBench();
  await digestOnceSettled(bench);
  browser = await startBrowser();
  page = await (await openDevice(browser, await listen(bench), { size: 'tablet', touch: true })).newPage();
  await signIn(page, bench.person('manager'));
});
afterAll(async () => {
  await browser.close();
  await bench.close();
});

async function tap(what: Locator): Promise<void> {
  taps += 1;
  await what.tap();
}

/** Begins at the digest and taps the button of a matter. */
async function openMatter(button: string): Promise<void> {
  taps = 0;
  await page.goto('/digest');
  await tap(page.locator('.matter').getByRole('link', { name: new RegExp(`^${button}`) }));
  await page.waitForURL(/\/watch\//);
}

const saved = async () => (await page.locator('.notice').textContent()) ?? '';

describe('every alert of the demo farm', () => {
  test('opens with its picture, is clean for a screen reader and fits every size', async () => {
    const roots = (await openAlerts(bench.service.pool)).filter(({ causeId }) => causeId === null);
    expect(roots).toHaveLength(4);
    for (const { id } of roots) {
      await page.goto(`/watch/${id}`);
      const picture = page.locator('.alert-picture svg').first();
      expect((await picture.getAttribute('aria-label'))?.length).toBeGreaterThan(20);
      // Names along the axes stand level: no other rule of the stylesheet turns them.
      for (const tick of await page.locator('.alert-picture .not-phone svg text').all())
        expect(await tick.evaluate((text) => getComputedStyle(text).rotate)).toBe('none');
      expect((await boxOf(picture)).y + 200).toBeLessThan(768);
      await expectNoAxeViolations(page);
      for (const target of await page.locator('.alert-doing .button:visible').all())
        expect((await boxOf(target)).height).toBeGreaterThanOrEqual(47.5);
      for (const width of [1280, 390]) {
        await page.setViewportSize({ width, height: 800 });
        await expectNoSideways(page);
      }
      await page.setViewportSize({ width: 1024, height: 768 });
    }
    for (const path of ['/watch', '/digest']) {
      await page.goto(path);
      await expectNoAxeViolations(page);
      await page.setViewportSize({ width: 390, height: 844 });
      await expectNoSideways(page);
      await page.setViewportSize({ width: 1024, height: 768 });
    }
  });
});

test('on a phone the first thing to do is on the first screen of every alert', async () => {
  const pool = bench.service.pool;
  const byRule = Map.groupBy(await openAlerts(pool), ({ rule, subjectType }) => `${rule} ${subjectType}`);
  await page.setViewportSize({ width: 390, height: 844 });
  for (const [kind, [alert]] of byRule) {
    await page.goto(`/watch/${alert?.id}`);
    const shown = page.locator('.alert-dock .button, .doing-main').first();
    const box = await boxOf(shown);
    const tabs = await boxOf(page.locator('.spine-areas'));
    expect(box.y + box.height, kind).toBeLessThanOrEqual(tabs.y + 0.5);
    expect(box.height, kind).toBeGreaterThanOrEqual(47.5);
  }
  expect(byRule.size).toBeGreaterThan(4);
  // At the form it is out of the way.
  const swing = (await openAlerts(pool)).find(({ rule }) => rule === 'alkalinity-unsteady');
  await page.goto(`/watch/${swing?.id}`);
  await page.locator('.alert-dock .button').tap();
  await expect.poll(async () => (await boxOf(page.locator('.alert-dock'))).y).toBeLessThan(0);
  await expectNoAxeViolations(page);
  await page.setViewportSize({ width: 1024, height: 768 });
});

describe('in at most three taps from the digest', () => {
  test('the lamps are noted as turned down, and the steps up are planned', async () => {
    await openMatter('Turn by hand to 70 %');
    await tap(page.getByRole('button', { name: 'I turned them by hand' }));
    await expect.poll(saved).toMatch(/^Lamps noted at 70 %\. The steps up to \d+ % are due on their days\.$/);
    expect(taps).toBeLessThanOrEqual(3);
    const lamp = await bench.service.db.lampSetting.findFirstOrThrow({ orderBy: { at: 'desc' } });
    expect(lamp.percent).toBe(70);
    const steps = await bench.service.db.acclimationStep.findMany({ where: { lampId: lamp.lampId } });
    expect(steps.length).toBeGreaterThan(0);
    expect(Math.min(...steps.map(({ percent }) => percent ?? 0))).toBeGreaterThan(70);
  });

  test('the doser is looked at, and tests are due on three days', async () => {
    await openMatter('Check doser');
    await tap(page.getByRole('radio', { name: 'Air in the line' }));
    // What is found is not yet put right: that is an answer of its own, and a tap more.
    await tap(page.getByRole('radiogroup', { name: 'Does it give its full amount again?' }).getByText('Yes'));
    await tap(page.getByRole('button', { name: 'Save', exact: true }).first());
    await expect.poll(saved).toContain('due on each of the next three days');
    expect(taps).toBeLessThanOrEqual(4);
    const looks = await bench.service.db.look.findMany({ where: { key: { startsWith: 'alert test:' } } });
    expect(looks.map(({ title }) => title)).toEqual(Array(3).fill('Test alkalinity'));
    const alert = page.locator('main');
    await expect
      .poll(async () => {
        await page.reload();
        return alert.textContent();
      })
      .toContain('To confirm it: a test of alkalinity');
  });

  test('the next kit is open, the old one away, three tests beside each other on the round', async () => {
    await openMatter('New kit');
    await tap(page.getByRole('button', { name: 'Open the new kit' }));
    await expect.poll(saved).toContain('Alkalinity, Brood room, kit 4 is open.');
    expect(taps).toBeLessThanOrEqual(3);
    const kits = await bench.service.db.kit.findMany({
      where: { label: { startsWith: 'Alkalinity, Brood room' } },
    });
    expect(kits.find(({ label }) => label.endsWith('kit 3'))?.retiredAt).not.toBeNull();
    const look = await bench.service.db.look.findFirstOrThrow({
      where: { key: { startsWith: 'kit tests:' } },
    });
    expect(look.title).toContain('three times with Alkalinity, Brood room, kit 4');
  });

  test('the routine of water changes is what the alert asks for', async () => {
    await openMatter('Change routine');
    const button = page.getByRole('button', { name: /^Change the routine from 12 %/ });
    const wanted = /to (\d+) %/.exec((await button.textContent()) ?? '')?.[1];
    await tap(button);
    await expect.poll(saved).toContain('The routine is changed.');
    expect(taps).toBeLessThanOrEqual(3);
    const routine = await bench.service.db.routine.findFirstOrThrow({
      where: { work: 'water_change', system: { name: 'North hall' }, endedAt: null },
      include: { system: true },
    });
    const { volumeL } = routine.detail as { volumeL: number };
    expect(Math.round((100 * volumeL) / routine.system.volumeL)).toBe(Number(wanted));
  });

  test('an alert is put off for a week, and says what would bring it back earlier', async () => {
    await evaluationsDone(bench);
    const [open] = (await openAlerts(bench.service.pool)).filter(
      ({ causeId, putOffUntil, severity }) => causeId === null && putOffUntil === null && severity !== 'now',
    );
    await page.goto(`/watch/${open?.id}`);
    expect(await page.locator('.put-off').textContent()).toContain('earlier if it gets a quarter worse');
    await page.getByRole('button', { name: 'A week' }).tap();
    await expect
      .poll(() => page.locator('main').textContent())
      .toContain('Put off. It comes back on its day');
  });
});
