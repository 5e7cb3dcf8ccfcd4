import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { bring } from '../intake/files.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

// Fifteen tubes of one water went to three laboratories: within-run spread small, between laboratories larger; lithium
// "0.0" from one while others gave several hundred ug/L (articles and a forum's analysis of mail-in tests).

let bench: Bench;
let manager: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench);
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

const report = (lines: string) => `Report of the sample\n\nElement;Result;Unit\n${lines}`;
const whole = (laboratory: string, batch: string, when = '2026-11-10 09:00') => ({ laboratory, batch, when });

async function brought(name: string, content: string, answers: Record<string, string>): Promise<string> {
  const at = (await bring(manager, name, content)).location ?? '';
  await manager.post(`${at}/reading`, answers);
  await takeAsFound(at);
  return at;
}

/** What is found outside the usual range is really so: these laboratories differ. */
async function takeAsFound(at: string): Promise<void> {
  const { body } = await manager.get(at);
  const asked = [...body.matchAll(/name="(range-[^"]+)"/g)].map(([, name = '']) => [name, 'take']);
  for (const [name] of asked) expect(name).toMatch(/^range-(iodine|lithium)-ug~2FL-/);
  if (asked.length > 0) await manager.post(`${at}/reading`, Object.fromEntries(asked));
}

async function take(at: string): Promise<void> {
  const { status, body } = await manager.post(`${at}/acceptance`, {});
  expect(status, body).toBe(303);
}

const readings = (quantityCode: string) =>
  bench.service.db.reading.findMany({
    where: { quantityCode, voidedAt: null },
    include: { method: true },
    orderBy: { createdAt: 'asc' },
  });

describe('reports of several laboratories on one water', () => {
  test('a zero is asked about: not measured, or below what was seen; it is never taken as none', async () => {
    const at = await brought(
      'first.csv',
      report('Li;0.0;ug/L\nSi;0.227;mg/L\nI;134;ug/L\n'),
      whole('Ebbe', 'E-1'),
    );
    const { body } = await manager.get(at);
    expect(body).toContain('What does “0.0” mean to Ebbe?');
    expect(body).not.toContain('true zero');
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(409);
    await manager.post(`${at}/reading`, { 'zero-Ebbe': 'nothing' });
    await takeAsFound(at);
    await take(at);
    expect(await readings('lithium')).toHaveLength(0);
  });

  test('below detection asks for the limit, in the report’s unit, and keeps it', async () => {
    const answers = { ...whole('Flut', 'F-7'), 'zero-Flut': 'below' };
    const at = await brought('second.csv', report('Li;0.0;ug/L\nI;121;ug/L\n'), answers);
    expect((await manager.get(at)).body).toContain('How little lithium could Flut just have seen, in µg/L?');
    await manager.post(`${at}/reading`, { 'limit-lithium-Flut': '50' });
    await takeAsFound(at);
    await take(at);
    const [lithium] = await readings('lithium');
    expect(lithium).toMatchObject({
      belowDetection: true,
      enteredText: '0.0',
      enteredUnit: 'ug/L',
      batch: 'F-7',
    });
    expect(lithium?.value).toBeCloseTo(0.05, 9);
  });

  test('ug/L becomes mg/L with both shown, and laboratory and batch are kept', async () => {
    const at = await brought('third.csv', report('Li;310;ppb\nI;140;ug/L\n'), whole('Sund', 'S/2026/44'));
    expect((await manager.get(at)).body).toContain('Iodine 140 µg/L &#x3D; 0.140 mg/L');
    await take(at);
    const iodine = await readings('iodine');
    expect(
      iodine.map((one) => [one.method?.laboratory, one.batch, Number(one.value.toFixed(6)), one.enteredUnit]),
    ).toEqual([
      ['Ebbe', 'E-1', 0.134, 'ug/L'],
      ['Flut', 'F-7', 0.121, 'ug/L'],
      ['Sund', 'S/2026/44', 0.14, 'ug/L'],
    ]);
  });

  test('each laboratory has a line of its own: another’s figures neither surprise nor confirm', async () => {
    const lithium = await readings('lithium');
    expect(new Set(lithium.map((one) => one.methodId)).size).toBe(2);
    expect(lithium.every((one) => one.trust === 'plain' && one.trustReason === '')).toBe(true);
    const again = await brought(
      'sund again.csv',
      report('Li;900;ug/L\n'),
      whole('sund', 'S/2026/51', '2026-11-17 09:00'),
    );
    await take(again);
    const latest = (await readings('lithium')).at(-1);
    expect(latest?.methodId).toBe(lithium.at(-1)?.methodId);
    expect(latest).toMatchObject({
      trust: 'unconfirmed',
      trustReason: expect.stringContaining('that the readings before lead to'),
    });
  });

  test('the same figure from two laboratories at one time is two readings', async () => {
    const at = await brought('same.csv', report('I;140;ug/L\n'), whole('Flut', 'F-8'));
    await take(at);
    expect(await readings('iodine')).toHaveLength(4);
  });
});
