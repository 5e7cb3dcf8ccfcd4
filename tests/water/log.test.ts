import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { effectOfDose } from '../../src/water/dosing/dose-effect.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from './farm.ts';

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  hand = await bench.as('hand', 'Bea');
});
afterAll(() => bench.close());

describe('water changes', () => {
  test('are logged in litres or in per cent of the system', async () => {
    const systemId = await makeSystem(bench, 'Changes');
    const url = `/water/systems/${systemId}/water-changes`;
    expect((await hand.post(url, { amount: '120', unit: 'L' })).status).toBe(303);
    expect((await hand.post(url, { amount: '12,5', unit: '%', at: '2026-11-23T09:00' })).status).toBe(303);
    const rows = await bench.service.db.waterChange.findMany({ where: { systemId }, orderBy: { at: 'asc' } });
    expect(rows.map((row) => row.volumeL)).toEqual([125, 120]);
    const { body } = await hand.get(url);
    expect(body).toContain('125 L, 13 %');
    expect(body).toContain('120 L, 12 %');
  });

  test('larger than the system, or in the future, are refused with what was typed', async () => {
    const systemId = await makeSystem(bench, 'Too much');
    const url = `/water/systems/${systemId}/water-changes`;
    const much = await hand.post(url, { amount: '1200', unit: 'L' });
    expect(much.status).toBe(422);
    expect(much.body).toContain('Too much holds 1,000 L.');
    expect(much.body).toContain('value="1200"');
    expect((await hand.post(url, { amount: '10', unit: '%', at: '2027-01-01T00:00' })).body).toContain(
      'That is in the future',
    );
    expect(await bench.service.db.waterChange.count({ where: { systemId } })).toBe(0);
  });
});

describe('doses', () => {
  const effects: [string, number, string, string | null, number][] = [
    // One equivalent is 84.007 g of NaHCO3 (IUPAC atomic weights 2021): 84.007 g in 1,000 L is 1 meq/L.
    ['Sodium bicarbonate', 84.007, 'g', 'alkalinity', 1],
    ['NaHCO3', 0.084007, 'kg', 'alkalinity', 1],
    ['Soda solution, 1 meq/mL', 250, 'mL', 'alkalinity', 0.25],
    ['Calcium stock 40 mg/mL Ca', 0.1, 'L', 'calcium', 4],
    ['magnesium mix 50 mg/mL Mg', 100, 'mL', 'magnesium', 5],
    ['sodium bicarbonate 84.007 g/L', 1, 'L', 'alkalinity', 1],
    ['mystery tonic', 10, 'mL', null, 0],
    ['sodium bicarbonate', 10, 'mL', null, 0],
    ['40 mg/mL of something', 10, 'mL', null, 0],
  ];
  test.each(effects)('%s, %d %s raises %s', (substance, amount, unit, quantityCode, rise) => {
    const effect = effectOfDose(substance, amount, unit, 1000);
    expect(effect?.quantityCode ?? null).toBe(quantityCode);
    expect(effect?.rise ?? 0).toBeCloseTo(rise, 4);
  });

  test('are kept with the effect that is known, computed or stated', async () => {
    const systemId = await makeSystem(bench, 'Doses');
    const url = `/water/systems/${systemId}/doses`;
    const reason = 'lost with the water of a leak';
    await hand.post(url, { substance: 'Sodium bicarbonate', amount: '84.007', unit: 'g', reason });
    await hand.post(url, { substance: 'mystery tonic', amount: '5', unit: 'drops', at: '2026-11-22T08:00' });
    await hand.post(url, {
      substance: 'buffer',
      amount: '5',
      unit: 'mL',
      quantityCode: 'alkalinity',
      rise: '0,5',
      at: '2026-11-21T08:00',
    });
    const rows = await bench.service.db.dose.findMany({ where: { systemId }, orderBy: { at: 'desc' } });
    expect(rows.map((row) => row.quantityCode)).toEqual(['alkalinity', null, 'alkalinity']);
    expect(rows[2]?.effect).toBeCloseTo(0.5 / 2.804, 3);
    const { body } = await hand.get(url);
    expect(body).toContain('raises alkalinity by 2.8 dKH');
    expect(body).toContain('what it raises is not known');
    const nothing = await hand.post(url, { substance: 'buffer', amount: '5', unit: 'mL', rise: '1' });
    expect(nothing.body).toContain('Choose what it raises, or leave the rise empty.');
  });
});

describe('feedings', () => {
  test('with the pumps off ask to say when they run again', async () => {
    const systemId = await makeSystem(bench, 'Feedings');
    const url = `/water/systems/${systemId}/feedings`;
    const saved = await hand.post(url, { food: 'chopped shrimp', amountG: '12', pumpsOffMin: '20' });
    const page = await hand.get(saved.location ?? '');
    expect(page.body).toContain('turn them on within 20 min');
    expect(page.body).toContain('The pumps run again');
    const feeding = await bench.service.db.feeding.findFirstOrThrow({ where: { systemId } });
    bench.at('2026-11-24T08:18:00Z');
    await hand.post(`/water/feedings/${feeding.id}/pumps`, {});
    bench.at('2026-11-24T09:00:00Z');
    await hand.post(`/water/feedings/${feeding.id}/pumps`, {});
    bench.at('2026-11-24T08:00:00Z');
    expect(
      await bench.service.db.switchedOff.findUniqueOrThrow({ where: { feedingId: feeding.id } }),
    ).toMatchObject({
      dueAt: new Date('2026-11-24T08:20:00Z'),
      seenRunningAt: new Date('2026-11-24T08:18:00Z'),
    });
  });

  test('of a tank of another system are refused', async () => {
    const systemId = await makeSystem(bench, 'No tank');
    const answer = await hand.post(`/water/systems/${systemId}/feedings`, {
      food: 'x',
      tankId: randomUUID(),
    });
    expect(answer.body).toContain('Choose a tank of No tank.');
  });
});

describe('an entry of the log', () => {
  test.each([
    ['water-changes', 'water_change', { amount: '10', unit: 'L' }],
    ['doses', 'dose', { substance: 'x', amount: '1', unit: 'g' }],
    ['feedings', 'feeding', { food: 'x' }],
  ])('of %s is in the journal as a %s', async (path, subjectType, form) => {
    const systemId = await makeSystem(bench, `Journal ${path}`);
    expect((await hand.post(`/water/systems/${systemId}/${path}`, form)).status).toBe(303);
    const line = await bench.service.db.journalLine.findFirstOrThrow({
      where: { kind: `${subjectType}.entered` },
      orderBy: { id: 'desc' },
    });
    expect(line).toMatchObject({ subjectType });
  });

  test.each([
    ['water-changes', { amount: '10', unit: 'L' }],
    ['doses', { substance: 'x', amount: '1', unit: 'g' }],
    ['feedings', { food: 'x' }],
  ])('of %s is voided with a reason and stays in view', async (path, form) => {
    const systemId = await makeSystem(bench, `Void ${path}`);
    await hand.post(`/water/systems/${systemId}/${path}`, form);
    const link =
      /\/water\/[a-z-]+\/[0-9a-f-]+\/voiding/.exec(
        (await hand.get(`/water/systems/${systemId}/${path}`)).body,
      )?.[0] ?? '';
    expect((await hand.get(link)).body).toContain('It cannot be taken back');
    expect((await hand.post(link, { reason: 'entered twice' })).location).toBe(
      `/water/systems/${systemId}/${path}`,
    );
    const { body } = await hand.get(`/water/systems/${systemId}/${path}`);
    expect(body).toContain('<li class="voided">');
    expect(body).toContain('entered twice');
  });
});
