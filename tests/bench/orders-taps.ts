/**
 * How many taps an order of five pieces takes from the shelf to the packed box: `npm run bench:orders-taps`. A browser takes
 * it from the list of what is ready, and by the codes of the labels, on tablet and phone, with and without scripts. The
 * first box ever is described once; each later one begins as the last was, and is held to the aim. Keys are not counted; a
 * choice from a list counts as two taps. Ends with 1 where the aim is missed.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { hashPassword } from '../../src/people/passwords.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { makeShelf } from '../stock/shelf.ts';
import { listen, signIn, sizes, startBrowser } from '../support/browser.ts';
import { type Bench, benchNow, benchOn } from '../support/service.ts';
import { Fingers } from './pace/fingers.ts';

/** The most taps that an order of five pieces may take (own choice). */
const aim = 19;

const hand = { email: 'hand@example.org', password: 'wet hands at the long rack' };

/** Five lots that are ready to sell, and a hand. @returns their codes */
async function fillShelf(bench: Bench): Promise<string[]> {
  const { db } = bench.service;
  const shelf = await makeShelf(bench);
  const passwordHash = await hashPassword(hand.password);
  await db.account.create({ data: { email: hand.email, name: 'Hand', role: 'hand', passwordHash } });
  const codes: string[] = [];
  for (const name of ['A1', 'A2', 'A3', 'A4', 'A5']) {
    const arrivedAt = new Date('2026-08-01T09:00:00Z');
    const lot = await shelf.lot({ pieces: 9, sizeMm: 80, arrivedAt, slotIds: [shelf.slot(name)] });
    await db.condition.create({ data: { lotId: lot.id, at: benchNow, state: 'well' } });
    codes.push(lot.code);
  }
  return codes;
}

/** What is said of the first box, once. */
const box = [
  ['Length inside', '40'],
  ['Width inside', '30'],
  ['Bags', '5'],
  ['Water in a bag', '1.6'],
  ['Door to door', '12'],
  ['Carrier', 'Coast van'],
  ['Water when it is packed', '25'],
] as const;

async function tickFromList(fingers: Fingers, codes: string[]) {
  const { page } = fingers;
  await page.goto('/stock/ready');
  for (const code of codes) await fingers.tap(page.locator(`input[name="lot"][value="${code}"]`));
}

/** A scanner types the code and Enter: one tap into the field, and no other. */
async function scanLabels(fingers: Fingers, codes: string[]) {
  const { page } = fingers;
  await page.goto('/scan?mode=tick');
  for (const [i, code] of codes.entries()) {
    const field = page.getByLabel('or type the code');
    if (i === 0) await fingers.tap(field);
    await field.fill(code);
    await field.press('Enter');
    await page.locator(`input[name="lot"][value="${code}"]`).waitFor();
  }
}

/** From the ticked lots to the packed box. */
async function orderAndPack(fingers: Fingers, isFirst: boolean): Promise<void> {
  const { page } = fingers;
  await fingers.go(page.getByRole('button', { name: 'Order', exact: true }));
  await fingers.type(page.getByLabel('Buyer'), 'Reef room of the old school');
  await fingers.go(page.getByRole('button', { name: 'Hold the pieces' }));
  await fingers.go(page.getByRole('link', { name: 'Pack it' }));
  for (const lot of await page.locator('input[name="packed"]').all()) await fingers.tap(lot);
  if (isFirst) {
    await fingers.tap(page.getByLabel('Sent in a box'));
    fingers.taps += 2;
    await page.getByLabel('Box of').selectOption('foam');
    for (const [label, text] of box) await fingers.type(page.getByLabel(label, { exact: true }), text);
  }
  await fingers.type(page.getByLabel('Coldest air on the way'), '17');
  await fingers.type(page.getByLabel('Warmest air on the way'), '23');
  await fingers.go(page.getByRole('button', { name: 'It is packed' }));
  const said = (await page.textContent('main')) ?? '';
  if (!/Packed.*5 pieces of 5 lots/s.test(said)) throw new Error(`It is not packed: ${said.slice(0, 400)}`);
}

const ways: {
  name: string;
  size: keyof typeof sizes;
  scripts: boolean;
  pick: (fingers: Fingers, codes: string[]) => Promise<void>;
}[] = [
  { name: 'the first box ever, tablet', size: 'tablet', scripts: true, pick: tickFromList },
  { name: 'from the list, tablet', size: 'tablet', scripts: true, pick: tickFromList },
  { name: 'from the list, phone', size: 'phone', scripts: true, pick: tickFromList },
  { name: 'from the list, phone without scripts', size: 'phone', scripts: false, pick: tickFromList },
  { name: 'by the codes of labels, tablet', size: 'tablet', scripts: false, pick: scanLabels },
];

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const bench = await benchOn(await openDatabase({ EVENWATER_DATA: folder }), { watching: false });
const browser = await startBrowser();
try {
  const codes = await fillShelf(bench);
  const baseURL = await listen(bench);
  for (const [i, { name, size, scripts, pick }] of ways.entries()) {
    const device = await browser.newContext({
      ...{ baseURL, viewport: sizes[size], hasTouch: true, reducedMotion: 'reduce' as const },
      javaScriptEnabled: scripts,
    });
    const page: Page = await device.newPage();
    await signIn(page, hand);
    const fingers = new Fingers(page);
    await pick(fingers, codes);
    await orderAndPack(fingers, i === 0);
    const isMissed = i > 0 && fingers.taps > aim;
    const verdict = i === 0 ? '      ' : isMissed ? 'MISSED' : 'kept  ';
    process.stdout.write(
      `${verdict} ${name}: ${fingers.taps} taps, ${fingers.seconds.toFixed(0)} s of tapping\n`,
    );
    if (isMissed) process.exitCode = 1;
    await device.close();
  }
} finally {
  await browser.close();
  await bench.close();
  await rm(folder, { recursive: true, force: true });
}
