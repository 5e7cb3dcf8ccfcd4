import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { gramsWords, inputLitres, litres, sizeWords } from '../../src/platform/units/measures.ts';
import { canonicalUnits, inUnits, unitsFrom, unitsText } from '../../src/platform/units/units.ts';
import { convert, convertMeasure } from '../../src/science/units.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// One person reads and types in gallons, inches, ounces and degF, another in litres and degC: both see the same water.

const american = {
  volume: 'gal (US)',
  length: 'in',
  mass: 'oz',
  temperature: 'degF',
  alkalinity: 'meq/L',
  salinity: 'SG 25/25',
} as const;

// NIST Special Publication 811 (2008), Appendix B.8: factors to the SI unit, as printed there.
test.each([
  ['volume', 'gal (US)', 'L', 3.785412],
  ['volume', 'gal (UK)', 'L', 4.54609],
  ['length', 'in', 'mm', 25.4],
  ['mass', 'oz', 'g', 28.34952],
  ['mass', 'lb', 'g', 453.5924],
] as const)('1 %s in %s is in %s what NIST SP 811 says: %d', (measure, from, to, factor) => {
  expect(convertMeasure(measure, 1, from, to) / factor).toBeCloseTo(1, 6);
});

// NIST SP 811 (2008), B.8: t/degC = (t/degF - 32)/1.8
test.each([
  [32, 0],
  [78.8, 26],
  [212, 100],
])('%d degF are %d degC', (f, c) => {
  expect(convert('temperature', f, 'degF', 'degC')).toBeCloseTo(c, 10);
});

describe('measures in words', () => {
  test('keep the digits that are known', () => {
    const five = convertMeasure('volume', 5, 'gal (US)', 'L');
    expect(litres(five)).toBe('18.9 L');
    expect(inputLitres(five)).toBe('18.93');
    inUnits(american, () => {
      expect(litres(five)).toBe('5 US gal');
      expect(inputLitres(five)).toBe('5');
      expect(litres(1840)).toBe('486 US gal');
      expect(sizeWords(1219, 610, 508)).toBe('48 × 24 × 20 in');
      expect(gramsWords(convertMeasure('mass', 0.5, 'oz', 'g'))).toBe('0.5 oz');
    });
    expect(litres(1840)).toBe('1,840 L');
    expect(sizeWords(2000, 805)).toBe('200 × 80.5 cm');
  });

  test('a form says the units it was drawn in, and nothing else is taken for them', () => {
    expect(unitsFrom(unitsText(american))).toEqual(american);
    expect(unitsText(canonicalUnits)).toBe('');
    for (const odd of ['', 'x', 'gal|mile', null, 7]) expect(unitsFrom(odd)).toEqual(canonicalUnits);
  });
});

let bench: Bench;
let hall: Hall;
/** In gallons and degF, and in litres and degC. */
let west: Visitor;
let east: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  west = await bench.as('manager', 'West');
  east = await bench.as('manager', 'East');
  const set = await west.post('/account/units', american);
  expect(set.status, set.body).toBe(303);
});
afterAll(() => bench.close());

/** Sends a form as its page was drawn for this person. */
async function fill(visitor: Visitor, page: string, action: string, typed: Record<string, unknown>) {
  const { body } = await visitor.get(page);
  const sent = /name="_units" value="([^"]*)"/.exec(body)?.[1];
  const version = /name="version" value="(\d+)"/.exec(body)?.[1];
  return visitor.post(action, {
    ...(sent === undefined ? {} : { _units: sent }),
    ...(version === undefined ? {} : { version }),
    ...typed,
  });
}

const systemNamed = (name: string) => bench.service.db.system.findFirstOrThrow({ where: { name } });

test('a volume typed in gallons is read in gallons, kept in litres, and seen by each in their own unit', async () => {
  const made = await fill(west, '/farm/systems/new', '/farm/systems', {
    name: 'Deep',
    volumeL: '500',
    note: '',
  });
  expect(made.status, made.body).toBe(303);
  const { id, volumeL } = await systemNamed('Deep');
  // 500 gal of 3.785411784 L (NIST Handbook 44, Appendix C)
  expect(volumeL).toBeCloseTo(1892.705892, 6);
  expect((await west.get('/farm')).body).toContain('500 US gal');
  expect((await east.get('/farm')).body).toContain('1,893 L');
  expect((await west.get(`/farm/systems/${id}`)).body).toMatch(/name="volumeL"[^>]*value="500"/);
  // Saved by somebody else without a change of the number, not a digit moves.
  const shown = /name="volumeL"[^>]*value="([^"]*)"/.exec((await east.get(`/farm/systems/${id}`)).body)?.[1];
  const saved = await fill(east, `/farm/systems/${id}`, `/farm/systems/${id}`, {
    name: 'Deep',
    volumeL: shown,
    note: 'x',
  });
  expect(saved.status, saved.body).toBe(303);
  expect((await systemNamed('Deep')).volumeL).toBe(volumeL);
});

test('a tank in inches is kept in millimetres; bounds are said in inches', async () => {
  const page = `/farm/systems/${hall.systemId}/tanks/new`;
  const action = `/farm/systems/${hall.systemId}/tanks`;
  const size = { name: 'Four foot', lengthMm: '48', widthMm: '24', heightMm: '20', note: '' };
  expect((await fill(west, page, action, size)).status).toBe(303);
  const tank = await bench.service.db.tank.findFirstOrThrow({ where: { name: 'Four foot' } });
  expect([tank.lengthMm, tank.widthMm, tank.heightMm]).toEqual([1219, 610, 508]);
  expect((await west.get('/farm')).body).toContain('48 × 24 × 20 in');
  expect((await east.get('/farm')).body).toContain('121.9 × 61 × 50.8 cm');
  const refused = await fill(west, page, action, { ...size, name: 'Odd', lengthMm: '9000' });
  expect(refused.status).toBe(422);
  expect(refused.body).toContain(' in.');
  expect(refused.body).toContain('value="9000"');
});

test('lamps like another one are hung at its height, in the unit of whoever hangs them', async () => {
  const { db } = bench.service;
  const { id: tankId } = await db.tank.findFirstOrThrow({ where: { name: 'Four foot' } });
  await db.rack.create({ data: { tankId, name: 'R1', rows: 1, columns: 2, depthMm: 150 } });
  const lamp = await db.lamp.create({
    data: { tankId, name: 'Bar', litHours: 10, rampHours: 1, heightMm: 254 },
  });
  const height = async (who: Visitor) =>
    /name="heightMm"[^>]*value="([^"]*)"/.exec(
      (await who.get(`/farm/tanks/${tankId}/lamps/each?like=${lamp.id}`)).body,
    )?.[1];
  // 1 in is 25.4 mm (NIST SP 811, B.8)
  expect(await height(west)).toBe('10');
  expect(await height(east)).toBe('25.4');
});

test('a temperature is typed, read and exported in the own unit, and is one value', async () => {
  const page = `/water/systems/${hall.systemId}/readings/new`;
  const { body } = await west.get(page);
  expect(body).toContain('°F');
  const unit = /name="temperature-unit"[^>]*>.*?<option value="([^"]*)" selected/s.exec(body)?.[1];
  expect(unit).toBe('degF');
  const answer = await fill(west, page, `/water/systems/${hall.systemId}/readings`, { temperature: '78.8' });
  expect(answer.status, answer.body).toBe(303);
  const reading = await bench.service.db.reading.findFirstOrThrow({ where: { quantityCode: 'temperature' } });
  expect(reading.value).toBeCloseTo(26, 6);
  const system = `/water/systems/${hall.systemId}?quantity=temperature`;
  expect((await west.get(system)).body).toContain('78.8');
  expect((await east.get(system)).body).toContain('26.0');
  const csv = `/water/systems/${hall.systemId}/readings.csv?quantity=temperature`;
  expect((await west.get(csv)).body).toMatch(/,temperature,78\.8,degF,/);
  expect((await east.get(csv)).body).toMatch(/,temperature,26,degC,/);
});

test('a water change in gallons and food in ounces are kept in litres and grams', async () => {
  const base = `/water/systems/${hall.systemId}`;
  const changed = await fill(west, `${base}/water-changes`, `${base}/water-changes`, {
    ...{ amount: '5', unit: 'gal (US)', water: 'usual', salinity: '', note: '', at: '' },
  });
  expect(changed.status, changed.body).toBe(303);
  const change = await bench.service.db.waterChange.findFirstOrThrow();
  expect(change.volumeL).toBeCloseTo(18.92705892, 8);
  expect((await west.get(`${base}/water-changes`)).body).toContain('5 US gal');
  expect((await east.get(`${base}/water-changes`)).body).toContain('18.9 L');
  const fed = await fill(west, `${base}/feedings`, `${base}/feedings`, {
    ...{ food: 'copepods', amountG: '0.5', tankId: '', pumpsOffMin: '', response: '', at: '' },
  });
  expect(fed.status, fed.body).toBe(303);
  const feeding = await bench.service.db.feeding.findFirstOrThrow();
  expect(feeding.amountG).toBeCloseTo(14.1747615625, 8);
  expect((await west.get(`${base}/feedings`)).body).toContain('0.5 oz copepods');
  expect((await east.get(`${base}/feedings`)).body).toContain('14.175 g copepods');
});

test('a form is read in the units it was drawn in, whatever was chosen meanwhile; without a word it is canonical', async () => {
  const { body } = await west.get('/farm/systems/new');
  const _units = /name="_units" value="([^"]*)"/.exec(body)?.[1];
  await west.post('/account/units', { volume: '', length: '', mass: '', temperature: '' });
  await west.post('/farm/systems', { _units, name: 'Drawn before', volumeL: '100', note: '' });
  expect((await systemNamed('Drawn before')).volumeL).toBeCloseTo(378.5411784, 6);
  await west.post('/account/units', american);
  await west.post('/farm/systems', { name: 'Without a word', volumeL: '100', note: '' });
  expect((await systemNamed('Without a word')).volumeL).toBe(100);
});

test('a round, which several people fill in on one tablet, stays in the farm’s units', async () => {
  const { body } = await west.get('/rounds');
  expect(body).toContain('name="_units"');
});

test('who chose nothing reads as the site has it', async () => {
  const owner = await bench.as('owner');
  const site = await bench.service.db.site.findFirstOrThrow();
  const set = await owner.post('/farm/site', {
    ...{
      name: site.name,
      timeZone: site.timeZone,
      digestAt: site.digestAt,
      currency: '',
      version: site.version,
    },
    ...{ volumeUnit: 'gal (UK)', lengthUnit: 'in', massUnit: 'g' },
  });
  expect(set.status, set.body).toBe(303);
  // 1,800 L / 4.54609 (NIST SP 811, B.8)
  expect((await east.get('/farm')).body).toContain('396 imp. gal');
  const edit = async (more: object) => {
    const { name, timeZone, digestAt, version } = await bench.service.db.site.findFirstOrThrow();
    return owner.post('/farm/site', { ...{ name, timeZone, digestAt, currency: '', version }, ...more });
  };
  expect((await edit({ volumeUnit: 'barrel' })).body).toContain('Choose a unit of the list.');
  expect((await edit({})).status).toBe(303);
  expect((await east.get('/farm')).body).toContain('396 imp. gal');
});
