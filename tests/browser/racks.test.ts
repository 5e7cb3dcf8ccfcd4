import type { Browser, Page } from 'playwright-core';
import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import { rackViews } from '../../src/racks/drawing/rack-views.ts';
import { type Ground, layGround, turn } from '../farm/ground.ts';
import { boxOf } from '../support/boxes.ts';
import {
  expectNoAxeViolations,
  expectNoSideways,
  listen,
  openDevice,
  signIn,
  startBrowser,
} from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

// A rack of 12 x 20 slots on a tablet by touch: its light is measured, it is filled, and a lot is moved on it.

let bench: Bench;
let browser: Browser;
let page: Page;
let address: string;
let ground: Ground;
const hand = { email: 'hand@example.org', password: 'wet hands at the long rack' };
const now = new Date('2026-11-24T09:00:00Z');

beforeAll(async () => {
  bench = await startBench({ watching: false });
  bench.at(now);
  ground = await layGround(bench, { name: 'Long rack of the window side', rows: 12, columns: 20 });
  await turn(bench, ground.lampId, '2026-05-01T00:00:00Z', 60);
  const passwordHash = await hashPassword(hand.password);
  await bench.service.db.account.create({
    data: { email: hand.email, name: 'Hand', role: 'hand', passwordHash },
  });
  browser = await startBrowser();
  address = await listen(bench);
  const device = await openDevice(browser, address, { size: 'tablet', touch: true });
  page = await device.newPage();
  await signIn(page, hand);
});
afterAll(async () => {
  await browser.close();
  await bench.close();
});

/** Texts of the picture that cross another, and those that leave the slot or the plate they begin in; as the browser measures them. */
const crossings = () =>
  page.locator('.rack-sheet > svg:not(.rack-rows)').evaluateAll((svgs) =>
    svgs.flatMap((svg) => {
      const boxes = [...svg.querySelectorAll('text')].map((text) => ({
        text: text.textContent,
        ...text.getBoundingClientRect().toJSON(),
      }));
      const cells = [...svg.querySelectorAll('.cell')].map((cell) => cell.getBoundingClientRect());
      const [hair, near] = [0.5, 60];
      const crossed = boxes.flatMap((a, i) =>
        boxes
          .slice(i + 1)
          .filter((b) => Math.abs(a.top - b.top) < near && a.left + hair < b.right && b.left + hair < a.right)
          .filter((b) => a.top + 3 < b.bottom && b.top + 3 < a.bottom)
          .map((b) => `${a.text} over ${b.text}`),
      );
      const cut = boxes.filter((box) => {
        const cell = cells.find(
          (one) =>
            box.left >= one.left && box.left < one.right && box.top >= one.top - 1 && box.top < one.bottom,
        );
        return cell !== undefined && (box.right > cell.right + hair || box.bottom > cell.bottom + hair);
      });
      const out = [...svg.querySelectorAll('.lot')].flatMap((lot) => {
        const plate = lot.querySelector('.plate')?.getBoundingClientRect();
        return [...lot.querySelectorAll('text')]
          .map((text) => ({ text: text.textContent, ...text.getBoundingClientRect().toJSON() }))
          .filter(
            ({ top, right }) => plate && top > plate.top && top < plate.bottom && right > plate.right + hair,
          );
      });
      return [
        ...crossed,
        ...cut.map((box) => `${box.text} leaves its slot`),
        ...out.map((box) => `${box.text} leaves its plate`),
      ];
    }),
  );

/** The slots that stay free. */
const kept = ['F10', 'L20'];

/** A lot with a long code in each slot, since June. */
async function fill(kindId: string, slotIds: readonly string[]): Promise<void> {
  const { db } = bench.service;
  const at = new Date('2026-06-01T00:00:00Z');
  const lots = slotIds.map((slotId, i) => ({ slotId, lotId: uuidv7(), placementId: uuidv7(), i }));
  const code = (i: number) => `WMW-${String(i).padStart(3, 'W')}`;
  const { siteId } = ground;
  await db.lot.createMany({
    data: lots.map(({ lotId, i }) => ({ id: lotId, siteId, kindId, code: code(i), arrivedAt: at })),
  });
  await db.ledgerEntry.createMany({
    data: lots.map(({ lotId }) => ({ lotId, at, change: 1, reason: 'received' as const })),
  });
  await db.placement.createMany({
    data: lots.map(({ lotId, placementId }) => ({ id: placementId, lotId, fromAt: at })),
  });
  await db.placementSlot.createMany({
    data: lots.map(({ slotId, placementId }) => ({ slotId, placementId })),
  });
}

const said = () => page.locator('[data-move-said]');

describe('a rack of 240 slots', () => {
  test('is measured by tapping slots and by pasting a sheet, and shows its light', async () => {
    await page.goto(`/racks/${ground.rackId}/surveys/new`);
    await page.getByLabel('Meter', { exact: true }).fill('Stick');
    await page.getByLabel('Immersion factor').fill('1');
    await page.getByLabel(/own figure/).check();
    await page.getByLabel('Setting of the lamps').fill('60');
    const first = page.getByLabel(/^A1\b/);
    await first.tap();
    await expect.poll(() => first.evaluate((field) => field === document.activeElement)).toBe(true);
    for (const typed of ['70', 'Enter', '74', 'ArrowDown', '80'])
      await (/\d/.test(typed) ? page.keyboard.type(typed) : page.keyboard.press(typed));
    await expect.poll(() => page.getByLabel(/^B2\b/).inputValue()).toBe('80');
    await page.getByText('Or paste a sheet').tap();
    await page.getByLabel('Readings').fill('A20;60\nF10;200\nL1;50\nL20;55\nF3;120\nF17;110');
    await page.getByRole('button', { name: 'Enter the survey' }).tap();
    await page.waitForURL(/surveys\/[0-9a-f-]{36}/);
    expect(await page.locator('main').textContent()).toContain('9 slots were measured');
    await page.goto(`/racks/${ground.rackId}`);
    expect(await page.locator('.rack .contour').count()).toBeGreaterThan(2);
    expect(await page.locator('.rack .light.measured').count()).toBe(9);
  });

  test('full of lots with long codes and names no text crosses another or leaves its slot, on paper neither', async () => {
    const kind = await bench.service.db.kind.findFirstOrThrow({ orderBy: { code: 'asc' } });
    await bench.service.db.kind.update({
      where: { id: kind.id },
      data: { name: 'Acanthophyllia deshayesiana of the deep wall' },
    });
    await fill(
      kind.id,
      Object.entries(ground.slots).flatMap(([name, id]) => (kept.includes(name) ? [] : [id])),
    );
    for (const view of rackViews) {
      await page.goto(`/racks/${ground.rackId}?view=${view}`);
      expect(await page.locator('.rack .code').count(), view).toBe(238);
      expect(await crossings(), view).toEqual([]);
    }
    await expectNoSideways(page);
    await page.emulateMedia({ media: 'print' });
    expect(await crossings(), 'print').toEqual([]);
    await page.emulateMedia({ media: 'screen' });
  });

  test('a lot tapped and then a free slot brings what the move means before it is made', async () => {
    await page.goto(`/racks/${ground.rackId}`);
    await page.getByRole('button', { name: 'Move by tapping' }).tap();
    await page.locator('a[data-lot]').first().tap();
    const before = await boxOf(page.locator('.rack-sheet').first());
    await expect.poll(() => said().textContent()).toContain('Tap the slot it goes to');
    await page.locator(`a[data-slot="${ground.slots.F10}"]`).tap();
    await said()
      .getByRole('link', { name: /^Move to/ })
      .waitFor();
    expect(await said().textContent()).toMatch(
      /risk of bleaching\. Go there by an acclimation of at least \d steps over \d+ days/,
    );
    // What is said must not push the rack away from under the finger.
    expect((await boxOf(page.locator('.rack-sheet').first())).height).toBe(before.height);
    await said()
      .getByRole('link', { name: /^Move to/ })
      .tap();
    await page.waitForURL(/racks\/move\?/);
    await page.getByRole('button', { name: /^Move/ }).tap();
    await page.waitForURL(/\/stock\//);
    await page.goto(`/racks/${ground.rackId}`);
    expect(await page.locator(`a[data-slot="${ground.slots.F10}"] .code`).textContent()).toMatch(/^WMW/);
  });
});

test('a tank is placed in its room by dragging and by the arrow keys; the numbers follow, and are saved', async () => {
  const { db } = bench.service;
  const manager = { email: 'manager@example.org', password: 'the plan of the long room' };
  const passwordHash = await hashPassword(manager.password);
  await db.account.create({ data: { email: manager.email, name: 'Manager', role: 'manager', passwordHash } });
  const { id: roomId } = await db.room.create({ data: { siteId: ground.siteId, name: 'Long room' } });
  const device = await openDevice(browser, address, { size: 'desk' });
  const desk = await device.newPage();
  await signIn(desk, manager);
  await desk.goto(`/farm/rooms/${roomId}`);
  const tank = desk.locator(`[data-tank="${ground.tankId}"]`);
  const left = desk.locator(`[name="left_${ground.tankId}"]`);
  const back = desk.locator(`[name="back_${ground.tankId}"]`);
  expect(await left.inputValue()).toBe('');
  const box = await boxOf(tank);
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await desk.mouse.move(x, y);
  await desk.mouse.down();
  await desk.mouse.move(x + 90, y + 60, { steps: 4 });
  await desk.mouse.up();
  const dragged = [Number(await left.inputValue()), Number(await back.inputValue())] as const;
  expect(dragged[0]).toBeGreaterThan(0);
  expect(dragged[1]).toBeGreaterThan(0);
  await tank.press('ArrowRight');
  await tank.press('Shift+ArrowDown');
  expect([await left.inputValue(), await back.inputValue()]).toEqual([
    `${dragged[0] + 5}`,
    `${dragged[1] + 50}`,
  ]);
  await desk.getByRole('button', { name: 'Save', exact: true }).click();
  await expect
    .poll(() => db.tankPlace.findUnique({ where: { tankId: ground.tankId } }))
    .toMatchObject({
      roomId,
      leftCm: dragged[0] + 5,
      backCm: dragged[1] + 50,
    });
  await expectNoAxeViolations(desk);
  await device.close();
});
