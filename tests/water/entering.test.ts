import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

let bench: Bench;
let hand: Visitor;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench, 'First');
  hand = await bench.as('hand', 'Bea');
});
afterAll(() => bench.close());

const kept = (systemId: string) =>
  bench.service.db.reading.findMany({ where: { systemId }, orderBy: { createdAt: 'asc' } });
const enter = (systemId: string, form: Record<string, string>) =>
  hand.post(`/water/systems/${systemId}/readings`, form);

describe('the readings form', () => {
  test('keeps what was typed and the canonical value, with the uncertainty of the method', async () => {
    const systemId = await makeSystem(bench, 'Keeps');
    const answer = await enter(systemId, {
      alkalinity: '8,4',
      'alkalinity-unit': 'dKH',
      nitrate: '7.5',
      at: '2026-11-24T07:30',
      note: 'before the dose',
    });
    expect(answer.status).toBe(303);
    const [alkalinity, nitrate] = (await kept(systemId)).sort((a, b) =>
      a.quantityCode.localeCompare(b.quantityCode),
    );
    expect(alkalinity).toMatchObject({
      enteredText: '8,4',
      enteredUnit: 'dKH',
      uncertainty: 0.07,
      trust: 'plain',
      note: 'before the dose',
      accountId: hand.id,
    });
    expect(alkalinity?.value).toBeCloseTo(8.4 / 2.804, 3);
    expect(alkalinity?.at).toEqual(new Date('2026-11-24T07:30Z'));
    expect(nitrate?.uncertainty).toBeCloseTo(0.75, 10);
    const page = await hand.get(answer.location ?? '');
    expect(page.body).toContain('Saved: Alkalinity 8.4 dKH, Nitrate 7.5 mg/L as NO₃.');
  });

  test('a surprising reading is kept unconfirmed and the page says at once to test again', async () => {
    const systemId = await makeSystem(bench, 'Surprise');
    await read(bench, systemId, '2026-11-23T08:00Z', 'alkalinity', '8.4');
    const page = await hand.get((await enter(systemId, { alkalinity: '6.9' })).location ?? '');
    expect(page.body).toContain('Test again: Alkalinity.');
    expect(page.body).toContain('6.9 dKH is below what this system keeps, 7.6 to 9.0 dKH.');
    expect(page.body).toContain('6.3 to 7.5 dKH confirms it.');
  });

  test('an implausible value comes back with a tick beside it, and is kept once ticked', async () => {
    const systemId = await makeSystem(bench, 'Implausible');
    const form = { alkalinity: '15.5', nitrate: '7', note: 'typed before' };
    const asked = await enter(systemId, form);
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('5.0 to 13.2 dKH is usual; 15.5 dKH is not.');
    expect(asked.body).toContain('It really is 15.5 dKH');
    expect(asked.body).toContain('name="nitrate" inputmode="decimal" autocomplete="off" value="7"');
    expect(asked.body).toContain('typed before');
    expect(await kept(systemId)).toEqual([]);
    expect((await enter(systemId, { ...form, 'alkalinity-sure': 'yes' })).status).toBe(303);
    expect((await kept(systemId)).map((reading) => reading.enteredText).sort()).toEqual(['15.5', '7']);
  });

  test('an impossible value is refused, with what was likely meant', async () => {
    const systemId = await makeSystem(bench, 'Impossible');
    const answer = await enter(systemId, { alkalinity: '83', 'alkalinity-sure': 'yes' });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('Alkalinity of 83 dKH cannot be. Did you mean 8.3 dKH?');
    expect(answer.body).toContain('<a href="#alkalinity">');
  });

  test('all that is wrong or in doubt is said at once, each naming its quantity', async () => {
    const systemId = await makeSystem(bench, 'At once');
    const { body } = await enter(systemId, { alkalinity: '15', calcium: 'much', magnesium: '1300' });
    expect(body).toContain('Calcium: &quot;much&quot; was not understood');
    expect(body).toContain('It really is 15 dKH');
    expect(body).toContain('value="1300"');
  });

  test('nothing entered is said so; a system that is not there is 404; a retired one is refused', async () => {
    const systemId = await makeSystem(bench, 'Retired');
    expect((await enter(systemId, { alkalinity: ' ', nitrate: '-' })).body).toContain(
      'Enter at least one reading.',
    );
    expect((await enter(randomUUID(), { alkalinity: '8' })).status).toBe(404);
    await bench.service.db.system.update({
      where: { id: systemId },
      data: { retiredAt: new Date('2026-11-01') },
    });
    expect((await enter(systemId, { alkalinity: '8' })).body).toContain('Retired is retired');
    expect((await hand.get(`/water/systems/${systemId}`)).body).toContain('nothing more can be entered');
  });

  test('remembers the kit and unit this person last used here', async () => {
    const systemId = await makeSystem(bench, 'Remembers');
    const { db } = bench.service;
    const method = await db.method.findFirstOrThrow({
      where: { quantityCode: 'alkalinity', name: 'syringe titration' },
    });
    const kit = await db.kit.create({
      data: { methodId: method.id, label: 'KH 7', openedAt: new Date('2026-11-01') },
    });
    const how = `${method.id}/${kit.id}`;
    await enter(systemId, {
      alkalinity: '3.0',
      'alkalinity-unit': 'meq/L',
      'alkalinity-how': how,
      at: '2026-11-24T07:00',
    });
    expect(await kept(systemId)).toMatchObject([
      { methodId: method.id, kitId: kit.id, uncertainty: 0.036, value: 3 },
    ]);
    const { body } = await hand.get(`/water/systems/${systemId}/readings/new`);
    expect(body).toContain(`<option value="${how}" selected>syringe titration, KH 7</option>`);
    expect(body).toContain('<option value="meq/L" selected>');
    expect(body).toContain('8.4 dKH, 1 h ago');
  });

  test('refuses a kit of another method, one not opened yet, and one of another quantity', async () => {
    const systemId = await makeSystem(bench, 'Kits');
    const { db } = bench.service;
    const of = (quantityCode: string, name: string) =>
      db.method.findFirstOrThrow({ where: { quantityCode, name } });
    const [drops, syringe, nitrate] = [
      await of('alkalinity', 'drop titration'),
      await of('alkalinity', 'syringe titration'),
      await of('nitrate', 'photometer'),
    ];
    const kit = await db.kit.create({
      data: { methodId: syringe.id, label: 'Syringe A', openedAt: new Date('2026-11-20') },
    });
    const other = await enter(systemId, { alkalinity: '8.3', 'alkalinity-how': `${drops.id}/${kit.id}` });
    expect(other.body).toContain('The kit Syringe A belongs to another method than drop titration.');
    const early = await enter(systemId, {
      alkalinity: '8.3',
      'alkalinity-how': `${syringe.id}/${kit.id}`,
      at: '2026-11-19T08:00',
    });
    expect(early.body).toContain('was not opened yet');
    const foreign = await enter(systemId, { alkalinity: '8.3', 'alkalinity-how': nitrate.id });
    expect(foreign.body).toContain('That is not a method for alkalinity.');
    expect(await kept(systemId)).toEqual([]);
  });
});

describe('what is typed', () => {
  test('H01: a decimal comma is a decimal comma', async () => {
    const systemId = await makeSystem(bench, 'H01');
    await enter(systemId, { alkalinity: '8,4' });
    expect((await kept(systemId))[0]?.value).toBeCloseTo(8.4 / 2.804, 3);
  });

  test('H03: a comma that may be a thousands mark is asked about', async () => {
    const systemId = await makeSystem(bench, 'H03');
    const answer = await enter(systemId, { magnesium: '1,350' });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('can mean 1.35 or 1350; 1350 mg/L is the usual size');
    expect(await kept(systemId)).toEqual([]);
  });

  test('H05: a reading in the future is refused', async () => {
    const systemId = await makeSystem(bench, 'H05');
    const answer = await enter(systemId, { alkalinity: '8.3', at: '2026-12-11T07:30' });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('That is in the future.');
    expect(answer.body).toContain('value="8.3"');
  });

  test('H07: a limit, ND, n.d., zero, nothing and a dash are told apart', async () => {
    const phosphate = async (text: string) => {
      const systemId = await makeSystem(bench, `H07 ${text}`);
      const answer = await enter(systemId, { phosphate: text, nitrate: '5' });
      expect(answer.status).toBe(303);
      const rows = (await kept(systemId)).filter((reading) => reading.quantityCode === 'phosphate');
      return rows.map(({ value, belowDetection, enteredText }) => ({ value, belowDetection, enteredText }));
    };
    expect(await phosphate('<0.05')).toEqual([{ value: 0.05, belowDetection: true, enteredText: '<0.05' }]);
    expect(await phosphate('ND')).toEqual([{ value: 0.02, belowDetection: true, enteredText: 'ND' }]);
    expect(await phosphate('n.d.')).toEqual([{ value: 0.02, belowDetection: true, enteredText: 'n.d.' }]);
    expect(await phosphate('0.00')).toEqual([{ value: 0.02, belowDetection: true, enteredText: '0.00' }]);
    expect(await phosphate('')).toEqual([]);
    expect(await phosphate('-')).toEqual([]);
  });

  test('H09: a unit that carries a condition is read with it, or asked about', async () => {
    const systemId = await makeSystem(bench, 'H09');
    expect((await enter(systemId, { salinity: '53 mS/cm at 25C' })).status).toBe(303);
    expect(await kept(systemId)).toMatchObject([{ enteredText: '53 mS/cm at 25C', enteredUnit: 'mS/cm' }]);
    const other = await enter(systemId, { salinity: '53 mS/cm at 20C' });
    expect(other.status).toBe(422);
    expect(other.body).toContain('compensated to 25 degC');
  });

  test('H11: the same form sent twice at once, and again after a day offline, is one reading', async () => {
    const systemId = await makeSystem(bench, 'H11');
    const form = { alkalinity: '8.3', at: '2026-11-24T07:30', _key: randomUUID() };
    const answers = await Promise.all([enter(systemId, form), enter(systemId, form)]);
    bench.at('2026-11-25T08:00:00Z');
    answers.push(await enter(systemId, form));
    bench.at('2026-11-24T08:00:00Z');
    expect(answers.map((answer) => answer.status)).toEqual([303, 303, 303]);
    expect(await kept(systemId)).toHaveLength(1);
  });

  test('B01: two readings apart as NO3 and N are asked about', async () => {
    const systemId = await makeSystem(bench, 'B01');
    await read(bench, systemId, '2026-11-23T08:00Z', 'nitrate', '8');
    const answer = await enter(systemId, { nitrate: '1.8' });
    expect(answer.body).toContain('it looks like mg/L as N versus mg/L as NO₃');
    expect(answer.body).toContain('It really is 1.8 mg/L as NO₃');
  });

  test('B04: ten times the last reading is asked about before any advice', async () => {
    const systemId = await makeSystem(bench, 'B04');
    await read(bench, systemId, '2026-11-23T08:00Z', 'nitrate', '2');
    const answer = await enter(systemId, { nitrate: '20' });
    expect(answer.body).toContain('10.0 times the last reading');
    expect(answer.body).toContain(
      'read through the side of the tube, a dilution not entered, or the decimal point?',
    );
    expect(answer.body).not.toContain('Test again');
  });
});
