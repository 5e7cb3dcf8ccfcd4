import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { convertDifference } from '../../src/science/units.ts';
import { withoutMarks } from '../support/figures.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

let bench: Bench;
let manager: Visitor;
let main: string;
let annex: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  main = await makeSystem(bench, 'Main');
  annex = await makeSystem(bench, 'Annex');
  await bench.service.db.system.update({ where: { id: annex }, data: { volumeL: 500 } });
  manager = await bench.as('manager', 'Ines Varga');
});
afterAll(() => bench.close());

async function paste(...rows: string[]): Promise<string> {
  const form = new FormData();
  form.set('kind', 'doses');
  form.set('pasted', `${['System,When,Additive,Amount,Unit', ...rows].join('\n')}\n`);
  const answer = await manager.send('/water/log-files', form, { accept: 'text/html' });
  expect(answer.status, answer.body).toBe(303);
  return answer.location ?? '';
}

const textOf = (html: string) =>
  withoutMarks(html)
    .replace(/<[^>]+>/g, ' ')
    .replace(/\s+/g, ' ');
const page = async (at: string) => textOf((await manager.get(at)).body);
const answer = (at: string, answers: Record<string, string>) => manager.post(`${at}/reading`, answers);
const accept = async (at: string) => (await manager.post(`${at}/acceptance`, {})).status;
const doses = (systemId: string, substance: string) =>
  bench.service.db.dose.findMany({ where: { systemId, substance, voidedAt: null }, orderBy: { at: 'asc' } });

/** 1.4 dKH in meq/L, by the conversion that the science takes. */
const rise = convertDifference('alkalinity', 1.4, 'dKH', 'meq/L', 2.9);

describe('a product of which nobody has said what it raises, in a file of doses', () => {
  let at: string;

  test('is asked about once, whatever its rows, and nothing is taken before', async () => {
    at = await paste(
      ...[1, 2, 3].map((day) => `Main,2026-10-0${day} 08:00,Alk part,100,mL`),
      'Main,2026-10-04 08:00,alk part ,0.2,L',
      'Main,2026-10-05 08:00,trace mix,5,drops',
      'Main,2026-10-06 08:00,old jar,10,g',
      'Main,2026-10-07 08:00,"soda, 1 meq/mL",100,mL',
    );
    const body = await page(at);
    expect(body.match(/What does “Alk part” raise\?/g)).toHaveLength(1);
    expect(body).toContain('What does “trace mix” raise?');
    expect(body).not.toContain('What does “soda, 1 meq/mL” raise?');
    expect(await accept(at)).toBe(409);
  });

  test('may raise a quantity by so much, something else, or what nobody knows: each is an answer', async () => {
    const said = {
      'raises-alk~20part': 'alkalinity',
      'raises-trace~20mix': 'other',
      'raises-old~20jar': 'unknown',
    };
    await answer(at, said);
    const body = await page(at);
    expect(body).toMatch(/By how much do 100 mL of “Alk part” in 100 L raise alkalinity, in dKH\?/);
    expect(await accept(at)).toBe(409);
    for (const typed of ['a lot', '1,050']) await answer(at, { ...said, 'strength-alk~20part-mL': typed });
    expect(await accept(at)).toBe(409);
    await answer(at, { ...said, 'strength-alk~20part-mL': '1,4' });
    expect(await accept(at)).toBe(303);
    // By mass balance: 1.4 dKH x 100 mL / 1,000 L, of what 100 mL in 100 L raise.
    const [first, , , litre] = await bench.service.db.dose.findMany({
      where: { systemId: main, quantityCode: 'alkalinity' },
      orderBy: { at: 'asc' },
    });
    expect(first?.effect).toBeCloseTo(rise / 10, 9);
    expect(litre?.effect).toBeCloseTo((2 * rise) / 10, 9);
    expect((await doses(main, 'trace mix'))[0]).toMatchObject({ quantityCode: null, effect: 0 });
    expect((await doses(main, 'old jar'))[0]).toMatchObject({ quantityCode: null, effect: null });
  });

  test('the page of doses says so in plain words, and asks about the one that is not known', async () => {
    const body = await page(`/water/systems/${main}/doses`);
    expect(body).toContain('raises none of what use is reckoned for');
    expect(body).toContain('what it raises is not known');
    expect(body).not.toMatch(/nobody knows what/);
  });

  test('is offered to another system of the farm as it was said, and taken once it is sent', async () => {
    const other = await paste('Annex,2026-10-01 08:00,ALK PART,50,mL');
    const { body } = await manager.get(other);
    expect(textOf(body)).toContain('In Main it was said to raise alkalinity');
    expect(body).toMatch(/value="alkalinity" selected/);
    expect(await accept(other)).toBe(409);
    await answer(other, { 'raises-alk~20part': 'alkalinity' });
    expect((await manager.get(other)).body).toMatch(/name="strength-alk~20part-mL"[^>]*value="1\.4"/);
    await answer(other, { 'raises-alk~20part': 'alkalinity', 'strength-alk~20part-mL': '1.4' });
    expect(await accept(other)).toBe(303);
    expect((await doses(annex, 'ALK PART'))[0]?.effect).toBeCloseTo(rise / 10, 9);
  });

  test('of a known quantity and a strength that nobody knows stays unknown for that quantity alone', async () => {
    const file = await paste('Annex,2026-10-02 08:00,ca part,50,mL');
    await answer(file, { 'raises-ca~20part': 'calcium' });
    await answer(file, { 'raises-ca~20part': 'calcium', 'strength-ca~20part-mL': 'not known' });
    expect(await accept(file)).toBe(303);
    expect((await doses(annex, 'ca part'))[0]).toMatchObject({ quantityCode: 'calcium', effect: null });
    expect(await page(`/water/systems/${annex}/doses`)).toContain('raises calcium, by how much is not known');
  });

  test('goes out with the list and comes back as it was said, without being asked again', async () => {
    const before = await bench.service.db.dose.findMany({
      where: { voidedAt: null },
      orderBy: { id: 'asc' },
    });
    const out = (await manager.get(`/water/systems/${main}/doses.csv`)).body;
    await bench.service.db.dose.updateMany({
      where: { systemId: main },
      data: { voidedAt: new Date(), voidReason: 'to bring it again' },
    });
    const form = new FormData();
    form.set('kind', 'doses');
    form.set('pasted', out);
    const back = (await manager.send('/water/log-files', form, { accept: 'text/html' })).location ?? '';
    expect(await page(back)).not.toContain('raise?');
    expect(await accept(back)).toBe(303);
    const kept = (rows: typeof before) =>
      rows
        .filter(({ systemId }) => systemId === main)
        .map(({ substance, quantityCode, effect }) => `${substance} ${quantityCode} ${effect}`)
        .sort();
    const now = await bench.service.db.dose.findMany({ where: { voidedAt: null } });
    expect(kept(now)).toEqual(kept(before));
  });
});

describe('what a product raises, said on the page of doses', () => {
  test('holds for all its doses of the system, for those to come, and can be undone', async () => {
    const hall = await makeSystem(bench, 'Hall');
    await bench.service.db.dose.createMany({
      data: [1, 2].map((n) => ({
        ...{ systemId: hall, at: new Date(`2026-10-0${n}T08:00:00Z`), substance: 'alk part' },
        ...{ amount: 100 * n, unit: 'mL' },
      })),
    });
    const at = `/water/systems/${hall}/doses`;
    const { body } = await manager.get(at);
    expect(textOf(body)).toContain('2 doses of “alk part”');
    expect(textOf(body)).toContain('it was said to raise alkalinity');
    const form = { product: 'mL alk part', raises: 'alkalinity', strength: '1.4' };
    const sent = await manager.post(`${at}/products`, form);
    expect(sent.status, sent.body).toBe(303);
    const known = await doses(hall, 'alk part');
    expect(known.map(({ effect }) => effect)).toEqual([
      expect.closeTo(rise / 10, 9),
      expect.closeTo(rise / 5, 9),
    ]);
    expect((await manager.get(at)).body).not.toContain('2 doses of “alk part”');
    const typed = { substance: 'Alk part', amount: '300', unit: 'mL', at: '2026-10-03T08:00', note: '' };
    const later = await manager.post(at, { ...typed, quantityCode: '', rise: '', reason: 'For this test' });
    expect(later.status, later.body).toBe(303);
    expect((await doses(hall, 'Alk part'))[0]?.effect).toBeCloseTo((3 * rise) / 10, 9);
  });

  test('needs a strength that is a number, or none', async () => {
    const hall = await makeSystem(bench, 'Hall 2');
    await bench.service.db.dose.create({
      data: { systemId: hall, at: new Date('2026-10-01T08:00:00Z'), substance: 'jar', amount: 1, unit: 'g' },
    });
    const form = { product: 'g jar', raises: 'magnesium', strength: 'much' };
    expect((await manager.post(`/water/systems/${hall}/doses/products`, form)).status).toBe(422);
    expect(
      (await manager.post(`/water/systems/${hall}/doses/products`, { ...form, strength: '' })).status,
    ).toBe(303);
    expect((await doses(hall, 'jar'))[0]).toMatchObject({ quantityCode: 'magnesium', effect: null });
  });
});
