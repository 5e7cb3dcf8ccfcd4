import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import { makeShelf, type Shelf } from '../stock/shelf.ts';
import { boxOf } from '../support/boxes.ts';
import { expectNoSideways, listen, openDevice, signIn, startBrowser } from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

describe('taking a lot in on the drawing of a rack', () => {
  let bench: Bench;
  let browser: Browser;
  let shelf: Shelf;
  let address: string;
  const hand = { email: 'hand@example.org', password: 'wet hands at the long rack' };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    const passwordHash = await hashPassword(hand.password);
    await bench.service.db.account.create({
      data: { email: hand.email, name: 'Hand', role: 'hand', passwordHash },
    });
    browser = await startBrowser();
    address = await listen(bench);
  });
  afterAll(async () => {
    await browser.close();
    await bench.close();
  });

  test.each(['desk', 'phone'] as const)(
    'drawing over free slots chooses them, a tap takes one out: %s',
    async (size) => {
      const device = await openDevice(browser, address, { size });
      const page = await device.newPage();
      await signIn(page, hand);
      await page.goto(`/racks/${shelf.rackId}`);
      await page.getByRole('button', { name: 'Take in by tapping' }).click();
      const middle = async (name: string) => {
        const box = await boxOf(page.locator(`a[data-slot="${shelf.slot(name)}"]`));
        return [box.x + box.width / 2, box.y + box.height / 2] as const;
      };
      await page.locator(`a[data-slot="${shelf.slot('A1')}"]`).scrollIntoViewIfNeeded();
      await page.mouse.move(...(await middle('A1')));
      await page.mouse.down();
      await page.mouse.move(...(await middle('A2')), { steps: 4 });
      await page.mouse.move(...(await middle('A3')), { steps: 4 });
      await page.mouse.up();
      await page.mouse.click(...(await middle('A2')));
      await page.getByRole('link', { name: 'Take in a lot there' }).click();
      await page.waitForURL(/\/stock\/new/);
      expect(await page.textContent('main')).toContain('It goes to Rack S2, A1, A3.');
      await expectNoSideways(page);
      await device.close();
    },
  );
});
