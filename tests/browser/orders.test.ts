import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import { makeShelf } from '../stock/shelf.ts';
import { expectNoSideways, listen, signIn, sizes, startBrowser } from '../support/browser.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';

// The owner of the farm asks for a whole order of five pieces, from the shelf into the packed box, in under twenty taps.
const FEWER_THAN = 20;

describe('an order of five pieces from the shelf to the packed box', () => {
  let bench: Bench;
  let browser: Browser;
  let address: string;
  let codes: string[] = [];
  const hand = { email: 'hand@example.org', password: 'wet hands at the long rack' };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    const shelf = await makeShelf(bench);
    const passwordHash = await hashPassword(hand.password);
    await bench.service.db.account.create({
      data: { email: hand.email, name: 'Hand', role: 'hand', passwordHash },
    });
    const slots = ['A1', 'A2', 'A3', 'A4', 'A5'];
    for (const name of slots) {
      const arrivedAt = new Date('2026-08-01T09:00:00Z');
      const lot = await shelf.lot({ pieces: 9, sizeMm: 80, arrivedAt, slotIds: [shelf.slot(name)] });
      await bench.service.db.condition.create({ data: { lotId: lot.id, at: benchNow, state: 'well' } });
      codes = [...codes, lot.code];
    }
    browser = await startBrowser();
    address = await listen(bench);
  }, 120_000);
  afterAll(async () => {
    await browser.close();
    await bench.close();
  });

  /** A finger that counts. */
  function finger() {
    let taps = 0;
    return {
      count: () => taps,
      async tap(what: Locator) {
        taps += 1;
        await what.tap();
      },
      /** One tap into the field; keys are not counted. */
      async type(what: Locator, text: string) {
        taps += 1;
        await what.tap();
        await what.fill(text);
      },
    };
  }

  async function packed(page: Page, { tap, type, count }: ReturnType<typeof finger>, isFirst: boolean) {
    await type(page.getByLabel('Buyer'), 'Reef room of the old school');
    await tap(page.getByRole('button', { name: 'Hold the pieces' }));
    await tap(page.getByRole('link', { name: 'Pack it' }));
    await expectNoSideways(page);
    for (const box of await page.locator('input[name="packed"]').all()) await tap(box);
    // The first box ever is described once; the next one begins as the last was.
    if (isFirst) {
      await page.getByLabel('Sent in a box').check();
      await page.getByLabel('Box of').selectOption('foam');
      for (const [label, text] of [
        ...[
          ['Length inside', '40'],
          ['Width inside', '30'],
          ['Bags', '5'],
          ['Water in a bag', '1.6'],
        ],
        ...[
          ['Door to door', '12'],
          ['Carrier', 'Coast van'],
          ['Water when it is packed', '25'],
        ],
      ] as const)
        await page.getByLabel(label, { exact: true }).fill(text);
    }
    await type(page.getByLabel('Coldest air on the way'), '17');
    await type(page.getByLabel('Warmest air on the way'), '23');
    await tap(page.getByRole('button', { name: 'It is packed' }));
    await page.waitForURL(/\/stock\/orders\/[^/]+$/);
    expect(await page.textContent('main')).toMatch(/Packed.*5 pieces of 5 lots/s);
    await expectNoSideways(page);
    return count();
  }

  test.each([
    {
      name: 'from the list, tablet, the first box',
      size: 'tablet',
      scripts: true,
      scan: false,
      isFirst: true,
    },
    { name: 'from the list, tablet', size: 'tablet', scripts: true, scan: false, isFirst: false },
    { name: 'from the list, phone', size: 'phone', scripts: true, scan: false, isFirst: false },
    {
      name: 'from the list, phone without scripts',
      size: 'phone',
      scripts: false,
      scan: false,
      isFirst: false,
    },
    { name: 'by codes as scanned, tablet', size: 'tablet', scripts: false, scan: true, isFirst: false },
  ] as const)('takes fewer than twenty taps: $name', async ({ name, size, scripts, scan, isFirst }) => {
    const device = await browser.newContext({
      ...{ baseURL: address, viewport: sizes[size], hasTouch: true, reducedMotion: 'reduce' },
      javaScriptEnabled: scripts,
    });
    const page = await device.newPage();
    await signIn(page, hand);
    const by = finger();
    if (scan) {
      // A scanner types the code and Enter: no tap but the first, into the field.
      await page.goto('/scan?mode=tick');
      for (const [i, code] of codes.entries()) {
        const field = page.getByLabel('or type the code');
        if (i === 0) await by.tap(field);
        await field.fill(code);
        await field.press('Enter');
      }
    } else {
      await page.goto('/stock/ready');
      for (const code of codes) await by.tap(page.locator(`input[name="lot"][value="${code}"]`));
    }
    await by.tap(page.getByRole('button', { name: 'Order', exact: true }));
    await expectNoSideways(page);
    const taps = await packed(page, by, isFirst);
    process.stdout.write(`  ${name}: ${taps} taps\n`);
    expect(taps).toBeLessThan(FEWER_THAN);
    await device.close();
  });
});
