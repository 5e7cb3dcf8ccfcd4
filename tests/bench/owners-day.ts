/**
 * A farm moves in, from `npm start` on an empty folder to the first round walked, the digest opened and a tag issued:
 * `npm run bench:owners-day`. A browser at 1280 x 800 does what an owner does; taps and keys are counted and reckoned at
 * human pace, and the time that pages took is added. Prints parts, taps, keys and minutes; aims: 90 minutes in all, 15 for
 * the lots. Reading, thinking and walking past the racks are not in it. TELL=1 prints each form that is sent.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openDevice, startBrowser } from '../support/browser.ts';
import { startProcess } from '../support/processes.ts';
import { stockFile, testsFile } from './owners-day/files.ts';
import { Hand, minutesOf } from './owners-day/hand.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const folder = await mkdtemp(join(tmpdir(), 'evenwater-owner-'));
const env = { EVENWATER_DATA: folder, HOST: '127.0.0.1', LOG_LEVEL: 'error', BACKUPS: 'elsewhere' };
const started = performance.now();
const service = startProcess('src/main.ts', [], env);
const [, address = ''] = await service.says(/ready: (http\S+)/, 120_000);
const browser = await startBrowser();
const device = await openDevice(browser, address);
const page = await device.newPage();
page.setDefaultTimeout(120_000);
const hand = new Hand(page);

/** The house: each system with its litres and its tanks, each tank with its racks by number. */
const house = [
  {
    name: 'North',
    litres: '2400',
    tanks: [
      ['N1', 1, 3],
      ['N2', 4, 3],
      ['N3', 7, 3],
    ],
  },
  {
    name: 'South',
    litres: '1800',
    tanks: [
      ['S1', 10, 3],
      ['S2', 13, 2],
    ],
  },
  {
    name: 'Back room',
    litres: '600',
    tanks: [
      ['B1', 15, 2],
      ['B2', 17, 2],
    ],
  },
] as const;
const tankIds: string[] = [];
const systemIds: string[] = [];
const idIn = (url: string) => /[0-9a-f-]{36}/.exec(url)?.[0] ?? '';

async function welcome(): Promise<void> {
  hand.begin('Start and set up the account');
  hand.count({ taps: 1, keys: 'npm start'.length, seconds: (performance.now() - started) / 1000 });
  await hand.open('/');
  await hand.type('siteName', 'Saltgate Yard');
  await hand.type('timeZone', 'Europe/Lisbon');
  await hand.type('name', 'Ines Varga');
  await hand.type('email', 'ines@example.org');
  await hand.type('password', 'reef lamps at dawn');
  await hand.send('Set up');
  await hand.open('/farm/site');
  await hand.choose('currency', /EUR/);
  await hand.send('Save');
}

async function describeHouse(): Promise<void> {
  hand.begin('3 systems, 7 tanks');
  for (const { name, litres, tanks } of house) {
    await hand.open('/farm/systems/new');
    await hand.type('name', name);
    await hand.type('volumeL', litres);
    await hand.send('Save');
    await hand.open('/farm');
    const link = page.getByRole('link', { name: new RegExp(`Add a tank to ${name}`) });
    const newTank = (await link.getAttribute('href')) ?? '';
    systemIds.push(idIn(newTank));
    for (const [tank] of tanks) {
      await hand.open(newTank);
      await hand.type('name', tank);
      await hand.type('lengthMm', '240');
      await hand.type('widthMm', '80');
      await hand.type('heightMm', '40');
      await hand.send('Save');
      tankIds.push(await idOfTank(tank));
    }
  }
}

/** What the page where the tank is listed says of it; no tap. */
async function idOfTank(name: string): Promise<string> {
  const answer = await page.request.get('/farm');
  const found = new RegExp(`/farm/tanks/([0-9a-f-]{36})">${name}<`).exec(await answer.text());
  return found?.[1] ?? '';
}

async function describeRacks(): Promise<void> {
  hand.begin('18 racks with lamps and flow');
  const tanks = house.flatMap(({ tanks: own }) => [...own]);
  for (const [i, [, first, count]] of tanks.entries()) {
    const tank = `/farm/tanks/${tankIds[i]}`;
    await hand.open(`${tank}/racks/new`);
    await hand.type('name', `R${first}`);
    await hand.type('count', String(count));
    await hand.type('rows', '10');
    await hand.type('columns', '16');
    await hand.type('depthMm', '15');
    await hand.send('Save');
    await hand.follow(/One lamp a rack/);
    await hand.type('percent', '60');
    await hand.type('litHours', '10');
    await hand.type('rampHours', '1');
    await hand.send('Hang the lamps');
    await hand.open(`${tank}/flow`);
    await hand.tick('flow', 'medium');
    await hand.send('Set the flow');
  }
}

async function bringFile(where: string, show: string, name: string, content: string): Promise<void> {
  await hand.open(where);
  await hand.bring('file', name, content);
  await hand.send(show);
}

async function bringLots(): Promise<void> {
  hand.begin('400 lots from their file');
  await bringFile('/stock/imports', 'Show a preview', 'stock.csv', stockFile());
  await answerQuestions();
  await hand.send(/^Take/);
}

/** Answers what the preview asks: a kind for each name, the first choice of each question. */
async function answerQuestions(): Promise<void> {
  const answer = page.getByRole('button', { name: 'Read the file with these answers' });
  if ((await answer.count()) === 0) return;
  for (const field of await page.locator('main input[list="kinds"]').all()) {
    if ((await field.inputValue()) !== '') continue;
    hand.count({ taps: 1, keys: 12 });
    await field.fill('Goniastrea retiformis');
  }
  for (const group of await page
    .locator('main fieldset:has(input[type="radio"]):not(:has(:checked))')
    .all()) {
    await group.locator('input[type="radio"]').first().check();
    hand.count({ taps: 1 });
  }
  await hand.send('Read the file with these answers');
}

async function bringTests(): Promise<void> {
  hand.begin('14 months of tests from their file');
  const systems = house.map(({ name }) => name);
  await bringFile('/water/imports', 'Show a preview', 'tests.csv', testsFile(systems, new Date()));
  await answerQuestions();
  await hand.send(/^Take/);
}

async function openKits(): Promise<void> {
  hand.begin('6 kits');
  for (const [quantity, label] of [
    ['Alkalinity', 'KH 1'],
    ['Calcium', 'Ca 1'],
    ['Magnesium', 'Mg 1'],
    ['Nitrate', 'NO3 1'],
    ['Phosphate', 'PO4 1'],
    ['Salinity', 'Refractometer'],
  ] as const) {
    await hand.open('/water/kits');
    await hand.choose('methodId', new RegExp(`^${quantity}: `));
    await hand.type('label', label);
    await hand.send(/Open|Save/);
  }
}

async function planRoutines(): Promise<void> {
  hand.begin('Routines, copied to all systems');
  const base = `/water/systems/${systemIds[0]}/routines`;
  for (const [quantity, days] of [
    ['Alkalinity', '2'],
    ['Nitrate', '7'],
    ['Phosphate', '7'],
  ] as const) {
    await hand.open(`${base}/new?work=test`);
    await hand.choose('quantityCode', quantity);
    await hand.type('everyDays', days);
    await hand.send('Plan it');
  }
  await hand.open(`${base}/new?work=water_change`);
  await hand.type('volume', '10');
  await hand.tick('volumeUnit', '%');
  await hand.type('everyDays', '7');
  await hand.send('Plan it');
  await hand.open(`${base}/copies`);
  for (const id of systemIds.slice(1)) await hand.tick('systems', id);
  await hand.send(/^Copy the/);
}

async function planRound(): Promise<void> {
  hand.begin('The round plan');
  await hand.open('/rounds/plans/new');
  await hand.type('name', 'Morning round');
  await hand.type('startsAt', '00:01');
  const places = await page.locator('main table input.short').all();
  for (const [i, field] of places.entries()) {
    if ((await field.inputValue()) !== '') continue;
    await field.fill(String(i + 1));
    hand.count({ taps: 1, keys: String(i + 1).length });
  }
  await hand.send('Save');
}

/** Every rack looked at and well. Tests that are due are left for the bench: their time is that of the tests. */
async function walkRound(): Promise<void> {
  hand.begin('The first round walked');
  await hand.open('/rounds');
  await hand.send(/begin/i);
  const well = page.locator('[data-well]');
  const onward = page.locator('[data-next-rack]');
  for (;;) {
    if ((await well.count()) > 0) await hand.tap('[data-well]');
    else if ((await onward.count()) > 0) await hand.tap('[data-next-rack]');
    else break;
  }
  if (!page.url().endsWith('/end')) {
    await hand.tap('.round-foot a.button');
    await hand.tap('a[href$="/end"]');
  }
  await hand.press('[data-finish]');
}

async function readDigest(): Promise<void> {
  hand.begin('The digest opened');
  await hand.open('/digest');
  const again = page.locator('summary', { hasText: 'Make it again' });
  if ((await again.count()) > 0) {
    await again.click();
    hand.count({ taps: 1 });
    await hand.send('Make it again');
  }
  say(
    `The digest: ${(await page.locator('article, main').first().textContent())?.replace(/\s+/g, ' ').slice(0, 160)}`,
  );
}

async function issueTag(): Promise<void> {
  hand.begin('A tag issued');
  await hand.open('/tags/new');
  await page.locator('main [name="lot"]').first().fill('K-017');
  hand.count({ taps: 1, keys: 5 });
  await hand.tap('main form.find button');
  await hand.type('pieces', '1');
  await page
    .locator('[name="hereAlone"]')
    .check({ timeout: 500 })
    .catch(() => undefined);
  await hand.send('Issue the tag');
}

const parts = [
  ...[welcome, describeHouse, describeRacks, bringLots, bringTests, openKits, planRoutines, planRound],
  ...[walkRound, readDigest, issueTag],
];
try {
  for (const part of parts) await part();
} catch (error) {
  process.exitCode = 1;
  say(`Stopped at ${page.url()}: ${error instanceof Error ? error.message : String(error)}`);
  await page.screenshot({ path: join(tmpdir(), 'owners-day-stopped.png'), fullPage: true });
}
if (process.exitCode !== 1) {
  const codes = Array.from({ length: 400 }, (_, k) => `K-${String(k + 1).padStart(3, '0')}`);
  let found = 0;
  for (const code of codes) {
    const answer = await page.request.get(`/stock?q=${code}`);
    if (/\/stock\/[A-Z0-9-]+$/.test(answer.url()) && (await answer.text()).includes(code)) found += 1;
  }
  say(`${found} of ${codes.length} own codes open their lot by the search`);
}
for (const part of hand.parts)
  say(
    `${part.name.padEnd(36)} ${String(part.taps).padStart(4)} taps ${String(part.keys).padStart(5)} keys ${part.pageSeconds.toFixed(1).padStart(6)} s of pages ${minutesOf(part).toFixed(1).padStart(6)} min`,
  );
const all = hand.parts.reduce((sum, part) => sum + minutesOf(part), 0);
say(`In all ${all.toFixed(1)} min (aim: under 90)`);
await browser.close();
service.child.kill('SIGTERM');
await new Promise((done) => service.child.once('exit', done));
await rm(folder, { recursive: true, force: true });
