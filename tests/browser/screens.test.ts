import { mkdir } from 'node:fs/promises';
import type { Browser, ConsoleMessage, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { localDay } from '../../src/platform/days.ts';
import { acclimationRequestSchema } from '../../src/stock/acclimations/acclimations.schema.ts';
import { planAcclimation } from '../../src/stock/acclimations/acclimations.ts';
import {
  expectNoAxeViolations,
  expectNoSideways,
  listen,
  openDevice,
  signIn,
  sizes,
  startBrowser,
} from '../support/browser.ts';
import { type DemoBench, demoNow, startDemoBench } from '../support/demo-bench.ts';

// Every screen, full, in the sizes of a desk, a tablet and a phone, light and dark: nothing scrolls sideways, axe finds
// nothing, and nothing on it runs against the Content-Security-Policy. With EVENWATER_SHOTS naming a folder, each is photographed into it.

let bench: DemoBench;
let browser: Browser;
let address: string;
let paths: Record<string, string>;

async function one(query: string): Promise<string> {
  const { rows } = await bench.service.pool.query<{ id: string }>(query);
  const [row] = rows;
  if (row === undefined) throw new Error(`the demo farm has nothing for: ${query}`);
  return row.id;
}

async function screens(): Promise<Record<string, string>> {
  const system = await one(`SELECT id FROM system WHERE name = 'North hall'`);
  const rack = bench.truth.brightRackId;
  const all = (await bench.service.db.rack.findMany()).map(({ id }) => id);
  const tank = await one(`SELECT tank_id AS id FROM rack WHERE id = '${rack}'`);
  const lot = await one(
    `SELECT code AS id FROM lot JOIN lot_place ON lot_place.lot_id = lot.id WHERE rack_id = '${rack}' ORDER BY code LIMIT 1`,
  );
  const alert = await one(`SELECT id FROM open_alert WHERE rule = 'nitrate-creep' LIMIT 1`);
  const plan = await one('SELECT id FROM round_plan ORDER BY name LIMIT 1');
  const lamp = await one(`SELECT lamp_id AS id FROM rack WHERE id = '${rack}'`);
  const kit = await one(`SELECT kit.id FROM kit JOIN open_alert ON subject_id = kit.id LIMIT 1`);
  const table = 'when,system,Alkalinity (dKH)\n2026-11-20,North hall,8.3\n03/04/2026,Nowhere,"1,350"\n';
  const site = await one('SELECT id FROM site');
  const file = await bench.service.db.import.create({
    data: { siteId: site, fileName: 'notebook.csv', content: new TextEncoder().encode(table), reading: {} },
  });
  const onN2 = `SELECT lot.id FROM lot WHERE id IN (SELECT lot_id FROM lot_place WHERE rack_name = 'N2') ORDER BY code`;
  const [plain, rising] = [await one(`${onN2} LIMIT 1`), await one(`${onN2} OFFSET 1 LIMIT 1`)];
  const tag = await bench.service.db.tag.findFirstOrThrow();
  return {
    today: '/',
    rooms: '/farm/rooms',
    room: `/farm/rooms/${await one('SELECT id FROM room ORDER BY position DESC LIMIT 1')}`,
    water: '/water',
    system: `/water/systems/${system}`,
    'system-nitrate': `/water/systems/${system}?quantity=nitrate&days=365`,
    readings: `/water/systems/${system}/readings/new`,
    corrections: `/water/systems/${system}/corrections`,
    'new-correction': `/water/systems/${system}/corrections/new`,
    targets: `/water/systems/${system}/targets`,
    routines: `/water/systems/${system}/routines`,
    'new-routine': `/water/systems/${system}/routines/new?work=feeding`,
    demand: `/water/systems/${system}/demand`,
    nutrients: `/water/systems/${system}/nutrients`,
    repeats: `/water/systems/${system}/repeats`,
    order: `/water/systems/${system}/bench-order`,
    hydrometer: '/water/hydrometer',
    'new-method': '/water/methods/new',
    keys: '/people/keys',
    kits: '/water/kits',
    files: '/water/imports',
    file: `/water/imports/${file.id}`,
    probes: '/water/probes',
    topics: '/water/topics',
    kit: `/water/kits/${kit}`,
    racks: '/racks',
    moves: '/moves',
    'worked-out': `/moves/new?which=rack&emptyRack=${rack}&${all.map((id) => `use=${id}`).join('&')}`,
    acclimations: '/stock/acclimations',
    'acclimate-to': `/stock/acclimations/new?lots=${plain}&targetPar=150&show=yes`,
    'acclimate-lamps': `/stock/acclimations/new?lamp=${lamp}&percent=70&show=yes`,
    acclimation: `/stock/acclimations/${await acclimationOf(rising)}`,
    tank: `/tanks/${tank}`,
    rack: `/racks/${rack}`,
    'rack-kind': `/racks/${rack}?view=kind`,
    'rack-flow': `/racks/${rack}/flow`,
    survey: `/racks/${rack}/surveys/new`,
    lamp: `/lamps/${lamp}/settings`,
    stock: '/stock',
    find: '/stock?q=brain',
    lot: `/stock/${lot}`,
    'new-lot': '/stock/new',
    kinds: '/kinds',
    watch: '/watch',
    alert: `/watch/${alert}`,
    limits: '/watch/limits',
    limit: '/watch/limits/nitrate-creep/rise',
    rounds: '/rounds',
    plans: '/rounds/plans',
    plan: `/rounds/plans/${plan}`,
    'plan-day': `/rounds/plans/${plan}/days`,
    'past-rounds': '/rounds/past',
    'new-photo': `/stock/${lot}/photo`,
    digest: '/digest',
    receivers: '/digest/receivers',
    ready: '/stock/ready?part=not',
    sale: `/stock/${lot}/sale`,
    tags: '/tags',
    'new-tag': `/tags/new?lot=${lot}`,
    'label-sheets': '/tags/sheets',
    tag: `/tags/${tag.id}`,
    labels: `/tags/labels?tag=${tag.id}`,
    public: `/t/${tag.token}?top=240&middle=140&from=2026-12-01&bag=26`,
    equipment: '/farm/equipment',
    'new-equipment': `/farm/equipment/new?system=${system}&kind=float_switch`,
    device: `/farm/equipment/${await one(`SELECT id FROM equipment WHERE name = 'Alkalinity doser' LIMIT 1`)}`,
    circuit: `/farm/circuits/${await one('SELECT id FROM circuit ORDER BY name LIMIT 1')}`,
    'switched-off': '/farm/switched-off',
    'switch-off': `/farm/switched-off/new?system=${system}`,
    'off-times': '/farm/switched-off/times',
    events: `/farm/systems/${system}/events`,
    contacts: '/farm/contacts',
    'wrong-choice': '/emergencies',
    'wrong-event': '/emergencies/events/power',
    'wrong-steps': `/emergencies/${await emergencyOf(system)}`,
    farm: '/farm',
    people: '/people',
    missing: '/nowhere',
  };
}

/** A plan that runs, of one lot to brighter light. */
async function acclimationOf(lotId: string): Promise<string> {
  const wish = acclimationRequestSchema(bench.siteId, localDay(demoNow, 'UTC')).parse({
    lots: lotId,
    targetPar: '110',
  });
  return (await bench.change((work) => planAcclimation(work, { ...wish, seen: null }))).id;
}

/** A power cut that runs: a step ticked, a heater off, somebody called who has not answered. */
async function emergencyOf(systemId: string): Promise<string> {
  const hand = await bench.as('hand', 'Nor Abell');
  const address = (await hand.post('/emergencies', { event: 'power', systems: systemId })).location ?? '';
  const ines = await bench.service.db.contact.findFirstOrThrow({ where: { onCall: 1 } });
  const what = 'Heater on the left behind the weir, the one with the blue cable';
  for (const entry of [
    { kind: 'done', step: 'light' },
    { kind: 'off', systemId, thing: 'heating', text: what },
    { kind: 'look', minutes: '30' },
    { kind: 'called', contactId: ines.id },
  ])
    await hand.post(`${address}/entries`, entry);
  return address.split('/').at(-1) ?? '';
}

beforeAll(async () => {
  bench = await startDemoBench({ watching: false });
  address = await listen(bench);
  browser = await startBrowser();
  paths = await screens();
});
afterAll(async () => {
  await browser.close();
  await bench.close();
});

async function photograph(page: Page, name: string): Promise<void> {
  const folder = process.env.EVENWATER_SHOTS;
  if (folder === undefined) return;
  await mkdir(folder, { recursive: true });
  await page.screenshot({ path: `${folder}/${name}.png`, fullPage: true });
}

// Layout does not hang on the theme nor colour on the size, so three looks meet all there is.
const looks = [
  { size: 'desk', theme: 'light', axe: 'page' },
  { size: 'tablet', theme: 'light', axe: null },
  { size: 'phone', theme: 'dark', axe: 'look' },
] as const;

async function faultsOf(page: Page, name: string, path: string): Promise<string[]> {
  const faults: string[] = [];
  const refused = (message: ConsoleMessage) => {
    if (message.text().includes('Content Security Policy'))
      faults.push(`${path}: ${message.text().slice(0, 300)}`);
  };
  page.on('console', refused);
  const answer = await page.goto(path);
  const expected = name === 'missing' ? 404 : 200;
  if (answer?.status() !== expected) faults.push(`${path} answered ${answer?.status()}`);
  for (const { size, theme, axe } of looks) {
    await page.setViewportSize(sizes[size]);
    await page.emulateMedia({ colorScheme: theme });
    await photograph(page, `${name}-${size}-${theme}`);
    const note = (error: Error) => faults.push(`${size}: ${error.message.slice(0, 600)}`);
    await expectNoSideways(page).catch(note);
    if (axe !== null) await expectNoAxeViolations(page, axe).catch(note);
  }
  page.off('console', refused);
  return faults;
}

describe('every screen', () => {
  // Two pages at a time, since each waits for its browser or for the service half of the time.
  test('on a desk, a tablet and a phone, light and dark, fits and has no violation of WCAG 2.2 AA', async () => {
    const device = await openDevice(browser, address);
    await signIn(await device.newPage(), bench.person('owner'));
    const waiting = Object.entries(paths);
    const faults: string[] = [];
    const visitor = async () => {
      const page = await device.newPage();
      for (let next = waiting.shift(); next !== undefined; next = waiting.shift())
        faults.push(...(await faultsOf(page, ...next)));
    };
    await Promise.all([visitor(), visitor()]);
    expect(faults).toEqual([]);
  }, 1_400_000);
});
