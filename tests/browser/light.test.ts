import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hashPassword } from '../../src/people/passwords.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { layRack, turn } from '../farm/ground.ts';
import { begin, type Hall, makeHall, planRound } from '../rounds/hall.ts';
import { expectNoAxeViolations, listen, openDevice, signIn, startBrowser } from '../support/browser.ts';
import { type Bench, startBench } from '../support/service.ts';

// From a light meter to a lot that goes to brighter light in steps, by touch on a tablet.

let bench: Bench;
let hall: Hall;
let browser: Browser;
let page: Page;
let rackId: string;
let code: string;

const person = { email: 'manager@example.org', password: 'a long enough password' };

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  bench.at('2026-11-24T08:00Z');
  const { db } = bench.service;
  const passwordHash = await hashPassword(person.password);
  await db.account.create({
    data: { name: 'Nor Abell', email: person.email, passwordHash, role: 'manager' },
  });
  const bars = { tankId: hall.tankId, name: 'Bars', litHours: 10, rampHours: 2 };
  const { id: lampId } = await db.lamp.create({ data: bars });
  await turn(bench, lampId, '2026-01-01T00:00:00Z', 60, { litHours: 10, rampHours: 2 });
  const rack = await layRack(
    bench,
    { tankId: hall.tankId, lampId },
    { name: 'Long rack', rows: 2, columns: 7 },
  );
  rackId = rack.rackId;
  code = hall.lots.A2.code;
  const at = new Date('2026-11-02T09:00:00Z');
  const slotIds = [rack.slots.A1 ?? ''];
  await bench.change((work) => moveLot(work, { lotId: hall.lots.A2.id, slotIds, at, reason: '' }));
  const address = await listen(bench);
  browser = await startBrowser();
  page = await (await openDevice(browser, address, { size: 'tablet', touch: true })).newPage();
  await signIn(page, person);
});
afterAll(async () => {
  await browser.close();
  await bench.close();
});

const mainText = async () => ((await page.locator('main').textContent()) ?? '').replace(/\s+/g, ' ');
const slotId = async (row: number, column: number) =>
  (await bench.service.db.slot.findFirstOrThrow({ where: { rackId, row, column } })).id;
const cell = async (row: number, column: number) =>
  page.locator(`a[data-slot="${await slotId(row, column)}"]`);

describe('light on a rack', () => {
  test('is entered slot by slot as the meter shows it, and drawn as light under water', async () => {
    await page.goto(`/racks/${rackId}/surveys/new`);
    await page.getByLabel('Meter', { exact: true }).fill('Stick 1');
    await page.getByLabel('Immersion factor of its sensor').fill('1.25');
    await page.getByText('apply the factor here').tap();
    const shown = {
      A1: '64',
      A2: '72',
      A3: '80',
      A4: '88',
      A5: '96',
      A6: '104',
      A7: '112',
      B1: '64',
      B7: '112',
    };
    for (const [slot, value] of Object.entries(shown)) {
      const field = page.locator(`input[name="${slot}"]`);
      await field.tap();
      await field.fill(value);
    }
    await page.getByRole('button', { name: 'Enter the survey' }).tap();
    await page.waitForURL((url) => !url.pathname.endsWith('/new') && !url.pathname.endsWith('/surveys'));
    await page.goto(`/racks/${rackId}`);
    // 112 in the sensor's own air calibration is 140 under water.
    expect(await (await cell(1, 7)).locator('.light').textContent()).toContain('140');
    const tone = async (column: number) => {
      const fill = page.locator('[data-rack] rect.cell').nth(column - 1);
      return /light-(\d)/.exec((await fill.getAttribute('class')) ?? '')?.[1];
    };
    expect(Number(await tone(7))).toBeGreaterThan(Number(await tone(1)));
  });

  test('answers a move by tap at once, with what the lot had so far and what it takes', async () => {
    await page.getByRole('button', { name: 'Move by tapping' }).tap();
    await (await cell(1, 1)).tap();
    await (await cell(1, 7)).tap();
    const said = page.locator('[data-move-said]');
    await expect.poll(() => said.textContent()).toContain('from 80 to 140');
    const words = (await said.textContent()) ?? '';
    expect(words).toContain('1.8 times the daily light measured for it so far');
    expect(words).toContain('what it is used to is not known yet');
    expect(words).toContain('takes 1.2 times in one step: risk of bleaching');
    expect(words).toMatch(/an acclimation of at least \d steps over \d+ days/);
    await expectNoAxeViolations(page);
    await said.getByRole('link', { name: 'Go there in steps' }).tap();
    await page.waitForURL(/\/stock\/acclimations\/new/);
  });

  test('becomes an acclimation in real slots, looked at before it is planned', async () => {
    // Its light was measured today: what it is used to is not known, and the plan begins with what a person states.
    expect(await mainText()).toContain('Say what is known of the light before');
    await page.getByText('as the sender says').tap();
    await page.getByLabel('Light before', { exact: false }).fill('80');
    await page.getByRole('button', { name: 'Show the steps' }).tap();
    await page.waitForURL(/received=stated/);
    const steps = await mainText();
    expect(steps).toContain('nothing is planned yet');
    expect(steps).toContain('Long rack, A7');
    expect(await bench.service.db.acclimation.count()).toBe(0);
    await expectNoAxeViolations(page);
    await page.getByRole('button', { name: 'Plan these steps' }).tap();
    await page.waitForURL(/\/stock\/acclimations\/[0-9a-f-]{36}$/);
    expect(await mainText()).toContain(`Next: Move ${code} to Long rack,`);
    await expectNoAxeViolations(page);
  });

  test('has its first step done on a round, and the record says in which acclimation the lot is', async () => {
    const planned = page.url();
    const roundId = await begin(bench, hall, await planRound(bench, hall, { steps: ['look'] }), '2026-11-24');
    await page.goto(`/rounds/${roundId}/systems/${hall.systemId}`);
    await page.getByRole('button', { name: new RegExp(`^Done ?: Move ${code} to Long rack`) }).tap();
    const stays = () => bench.service.db.placement.count({ where: { lotId: hall.lots.A2.id } });
    await expect.poll(stays).toBe(3);
    await page.goto(planned);
    expect(await mainText()).toMatch(/Running, 1 of \d steps done/);
    await page.goto(`/stock/${code}`);
    const record = await mainText();
    expect(record).toContain('In acclimation');
    // Its light was measured today, so nothing is drawn of the months before.
    expect(record).toMatch(/Used to now[\d.]+ mol.m² a day it gets [\d.]+ times that now/);
    expect(record).not.toContain('Light of the last months');
    await expectNoAxeViolations(page);
  });
});
