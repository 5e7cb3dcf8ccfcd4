import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { fieldNames } from '../../src/water/readings/readings.schema.ts';
import { bring } from '../intake/files.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Seven phosphates of "0.00" or "<0.01" were told as a level below nothing. Usual photometers see 0.02 mg/L (maker's sheets,
// from memory); that a non-detect is a bound and no number is the rule of water laboratories (reporting of censored data).

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  hand = await bench.as('hand');
});
afterAll(() => bench.close());

async function enter(systemId: string, day: number, quantityCode: string, text: string) {
  const at = `2026-11-${String(day).padStart(2, '0')}T08:00:00Z`;
  bench.at(at);
  const readings = [{ quantityCode, text, sure: true }];
  const answer = await hand.send('/api/readings', { systemId, at: at.slice(0, 16), readings });
  expect(answer.status, answer.body).toBe(201);
}

async function everythingSaid(systemId: string, code: string) {
  const at = '2026-11-22T08:05:00Z';
  bench.at(at);
  await evaluateSystems(bench.service, [systemId], new Date(at));
  const alerts = await openAlerts(bench.service.pool, { systemId });
  const pages = await Promise.all(
    [
      `/water/systems/${systemId}?quantity=${code}&days=30`,
      '/watch',
      `/water/systems/${systemId}/nutrients?quantity=${code}`,
    ].map(async (url) => (await hand.get(url)).body),
  );
  return { alerts, said: [JSON.stringify(alerts), ...pages].join('\n') };
}

describe('what a test could not see', () => {
  test.each([
    ['phosphate', ['0.00', '0.00', '0.00', '0.00', '0.00', '0.00', '0.00'], 0.01, 0.1],
    ['phosphate', ['<0.01', '<0.01', '<0.01', '<0.01', '<0.01', '<0.01', '<0.01'], 0.01, 0.1],
    ['phosphate', ['0.03', '0.02', '<0.02', '0.00', '<0.02', 'ND', '0.00'], 0.02, 0.1],
    ['nitrate', ['<0.5', 'ND', '0', '<0.5', '0', 'ND', '<0.5'], 0.5, 10],
  ] as const)(
    '%s %j is never less than nothing, and a band under it cannot be known',
    async (code, texts, low, high) => {
      const systemId = await makeSystem(bench, `Bounds ${code} ${texts[0]} ${texts.at(-1)}`);
      const band = { bandLow: low, bandHigh: high };
      await bench.service.db.systemQuantity.upsert({
        where: { systemId_quantityCode: { systemId, quantityCode: code } },
        create: { systemId, quantityCode: code, ...band },
        update: band,
      });
      for (const [i, text] of texts.entries()) await enter(systemId, 4 + 3 * i, code, text);
      const { alerts, said } = await everythingSaid(systemId, code);
      expect(said).not.toMatch(/[−-]\s?0?\.\d+ mg\/L/);
      expect(alerts.filter(({ rule, facet }) => rule === 'out-of-band' && facet === code)).toEqual([]);
      expect(said).toContain('annot be known with this test');
      // No plan from a level that nobody can see, and no food on it.
      expect(said).not.toMatch(/Outside the target band|Feed more first|Plan A/);
    },
  );
});

test('a nutrient of which the last test saw nothing is said as less than its limit, never as half of it', async () => {
  const systemId = await makeSystem(bench, 'Nothing seen');
  for (const [i, text] of ['<0.5', '<0.5', '<0.5'].entries())
    await enter(systemId, 16 + 2 * i, 'nitrate', text);
  bench.at('2026-11-22T08:05:00Z');
  const page = (await hand.get(`/water/systems/${systemId}/nutrients`)).body.replace(/<[^>]*>/g, '');
  expect(page).toMatch(/less than 0\.5 mg\/L(?: as NO₃)? now/);
  expect(page).not.toMatch(/0\.[123] mg\/L(?: as NO₃)? now/);
});

describe('what lay beyond the scale of a test', () => {
  test.each([
    ['nitrate', ['12', '13', '12', '>20'], '> 20.0 mg/L', 15],
    ['nitrate', ['12', '13', '12', '> 20 mg/L'], '> 20.0 mg/L', 15],
    ['phosphate', ['0.08', '0.09', '0.08', '>1'], '> 1.000 mg/L', 0.1],
  ] as const)(
    '%s %j is kept and shown as a bound, and known to be out of band',
    async (code, texts, said, high) => {
      const systemId = await makeSystem(bench, `Beyond ${code} ${texts.at(-1)}`);
      await bench.service.db.systemQuantity.upsert({
        where: { systemId_quantityCode: { systemId, quantityCode: code } },
        create: { systemId, quantityCode: code, bandHigh: high },
        update: { bandHigh: high },
      });
      for (const [i, text] of texts.entries()) await enter(systemId, 4 + 3 * i, code, text);
      await enter(systemId, 15, code, texts.at(-1) ?? '');
      const kept = await bench.service.db.reading.findFirstOrThrow({
        where: { systemId, quantityCode: code },
        orderBy: { at: 'desc' },
      });
      expect(kept).toMatchObject({ aboveScale: true, belowDetection: false, trust: 'confirmed' });
      const page = (await hand.get(`/water/systems/${systemId}?quantity=${code}&days=30`)).body;
      expect(page).toContain(said.replace('>', '&gt;'));
      expect(page).not.toMatch(/&gt; [\d.]+ mg\/L[^<]*±/);
      const told = await hand.get(`/api/systems/${systemId}/series?quantity=${code}&days=30`);
      expect(told.body).toContain('"above":true');
    },
  );

  test.each([
    ['two bounds', ['>20', '>20', '48']],
    ['numbers and two bounds', ['12', '13', '12', '>20', '>20', '48']],
    ['bounds from below', ['<0.5', '<0.5', '<0.5', '48', '48']],
  ])('stood after %s wherever the first number is, and not between the bound and it', async (name, texts) => {
    const systemId = await makeSystem(bench, `First number after ${name}`);
    for (const [i, text] of texts.entries())
      await enter(systemId, 22 - 3 * (texts.length - 1 - i), 'nitrate', text);
    bench.at('2026-11-22T08:05:00Z');
    const page = (await hand.get(`/water/systems/${systemId}/nutrients`)).body.replace(/<[^>]*>/g, '');
    expect(page).toMatch(/4[78]\.?\d? mg\/L(?: as NO₃)? now/);
  });

  test('at or under the upper end of the band cannot be known, and says to dilute', async () => {
    const systemId = await makeSystem(bench, 'Beyond, band wider');
    await bench.service.db.systemQuantity.update({
      where: { systemId_quantityCode: { systemId, quantityCode: 'nitrate' } },
      data: { bandHigh: 30 },
    });
    for (const [i, text] of ['18', '19', '>20', '>20'].entries())
      await enter(systemId, 4 + 3 * i, 'nitrate', text);
    const { alerts, said } = await everythingSaid(systemId, 'nitrate');
    expect(alerts.filter(({ rule }) => rule === 'out-of-band')).toEqual([]);
    expect(said).toContain('its scale ends at 20');
  });

  test('through the form, through a file, and into our own file', async () => {
    const systemId = await makeSystem(bench, 'Form and file');
    bench.at('2026-11-20T09:00:00Z');
    const names = fieldNames('nitrate');
    const form = await hand.post(`/water/systems/${systemId}/readings`, {
      at: '2026-11-20T08:00',
      [names.text]: '>20',
    });
    expect(form.status, form.body).toBe(303);
    const manager = await bench.as('manager');
    const file = await bring(
      manager,
      'bounds.csv',
      'when,system,Nitrate (mg/L)\n2026-11-19 08:00,Form and file,>20',
    );
    expect((await manager.post(`${file.location}/acceptance`, {})).status).toBe(303);
    const bounds = () => bench.service.db.reading.findMany({ where: { systemId, aboveScale: true } });
    expect((await bounds()).map(({ value }) => value)).toEqual([20, 20]);
    const own = (await hand.get(`/water/systems/${systemId}/readings.csv?days=30`)).body;
    expect(own).toContain('above scale');
    expect(own).toContain(',above scale,');
    const [head = '', ...rows] = own.trim().split('\n');
    const named = rows.map((row) => `Form and file,${row.replaceAll('2026-11-', '2026-10-')}`);
    const back = await bring(manager, 'own.csv', [`system,${head}`, ...named].join('\n'));
    expect((await manager.post(`${back.location}/acceptance`, {})).status).toBe(303);
    expect((await bounds()).map(({ value }) => value)).toEqual([20, 20, 20, 20]);
  });
});

describe('two bounds', () => {
  const read = async (systemId: string) =>
    bench.service.db.reading.findMany({
      where: { systemId, quantityCode: 'nitrate' },
      orderBy: { at: 'asc' },
      select: { enteredText: true, trust: true },
    });

  test.each([
    ['less said afterwards', ['12', '13', '12', '12', '>50', '>20'], 'unconfirmed', 'unconfirmed'],
    ['more said afterwards', ['12', '13', '12', '12', '>20', '>50'], 'confirmed', 'unconfirmed'],
    ['a figure far beyond', ['12', '13', '12', '12', '>20', '80'], 'confirmed', 'unconfirmed'],
    [
      'a bound that is all that is left of a figure',
      ['12', '13', '12', '12', '80', '>20'],
      'unconfirmed',
      'unconfirmed',
    ],
    ['the same said twice', ['12', '13', '12', '12', '>50', '>50'], 'confirmed', 'confirmed'],
    ['low, less said afterwards', ['12', '13', '12', '12', '<0.2', '<4'], 'unconfirmed', 'unconfirmed'],
    ['low, more said afterwards', ['12', '13', '12', '12', '<4', '<0.2'], 'confirmed', 'unconfirmed'],
  ] as const)(
    'that say different things are no repeat of one another: %s',
    async (name, texts, first, second) => {
      const systemId = await makeSystem(bench, `Two bounds, ${name}`);
      for (const [i, text] of texts.entries()) await enter(systemId, 4 + i, 'nitrate', text);
      expect((await read(systemId)).slice(-2).map(({ trust }) => trust)).toEqual([first, second]);
    },
  );
});

test('nitrate beyond the scale of every test is "more than", on the alert, the nutrients and the digest alike', async () => {
  const systemId = await makeSystem(bench, 'Beyond the scale');
  for (const day of [18, 20, 22]) await enter(systemId, day, 'nitrate', '>50');
  const { alerts } = await everythingSaid(systemId, 'nitrate');
  const high = alerts.find(({ rule }) => rule === 'nitrate-level');
  expect(high?.finding.numbers).toMatch(/^more than 50\.0 mg\/L/);
  expect(high?.finding.firstStep).toMatch(/^Dilute the sample and test again/);
  const page = (await hand.get(`/water/systems/${systemId}/nutrients`)).body;
  expect(page).toContain('beyond the scale of the test, so the level is not known');
  expect(page).not.toContain('Two plans side by side');
});

describe('what lay beyond a scale that ends at the edge of the band', () => {
  test.each([
    ['nitrate', '>20', 20, 'nitrate-level'],
    ['phosphate', '>0.1', 0.1, 'out-of-band'],
  ] as const)(
    '%s %s, twice, is above it, and nobody says that none lies outside',
    async (code, text, high, rule) => {
      const systemId = await makeSystem(bench, `Scale ends at the edge, ${code}`);
      await bench.service.db.systemQuantity.upsert({
        where: { systemId_quantityCode: { systemId, quantityCode: code } },
        create: { systemId, quantityCode: code, bandHigh: high },
        update: { bandHigh: high, limitHigh: null },
      });
      for (const day of [16, 18, 20, 22]) await enter(systemId, day, code, text);
      const { alerts } = await everythingSaid(systemId, code);
      const told = alerts.find((one) => one.rule === rule);
      expect(told?.finding.numbers).toMatch(/^(more than|>) /);
      expect(told?.finding.firstStep).toMatch(/Dilute the sample and test again/);
      const page = (await hand.get(`/water/systems/${systemId}?quantity=${code}&days=30`)).body;
      expect(page).toContain('4 readings lie outside');
      expect(page).not.toContain('annot be known with this test');
    },
  );
});
