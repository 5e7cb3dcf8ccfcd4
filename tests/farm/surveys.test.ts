import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { type Ground, layGround, turn } from './ground.ts';

// Corner and middle readings of a rack of 3 x 3; with the factor 1.25 of one family of sensors (a maker's manual)
// 180 shown is 225 under water; with the 1.32 of another it would be 238 (arithmetic).
const readings = { A1: '80', A3: '88', C1: '72', C3: '80', B2: '180' };
let meter = { meter: 'Stick', immersionFactor: '1,25', shown: 'raw', lampPercent: '50', note: '' };

describe('measuring the light on a rack', () => {
  let bench: Bench;
  let hand: Visitor;
  let manager: Visitor;
  let ground: Ground;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    hand = await bench.as('hand');
    manager = await bench.as('manager');
  });
  afterAll(() => bench.close());

  let sticks = 0;
  /** A rack of its own and a meter nobody has used. */
  const fresh = async () => {
    meter = { ...meter, meter: `Stick ${++sticks}` };
    ground = await layGround(bench, { rows: 3, columns: 3 });
    await turn(bench, ground.lampId, '2026-03-01T00:00:00Z', 50, { litHours: 10, rampHours: 1 });
    return `/racks/${ground.rackId}/surveys`;
  };
  const lightAt = async (slot: string) =>
    bench.service.db.slotLight.findFirstOrThrow({ where: { slotId: ground.slots[slot] as string } });

  test('keeps what the meter showed, applies the factor once, and tells the light at every slot', async () => {
    const url = await fresh();
    const answer = await hand.post(url, { ...meter, ...readings });
    expect(answer.status).toBe(303);
    const points = await bench.service.db.lightSurveyPoint.findMany({
      where: { slotId: ground.slots.B2 as string },
    });
    expect(points).toMatchObject([{ raw: 180, par: 225 }]);
    expect(await bench.service.db.slotLight.count({ where: { slot: { rackId: ground.rackId } } })).toBe(9);
    expect(await lightAt('B2')).toMatchObject({ par: 225, measured: true });
    const between = await lightAt('A2');
    expect(between.measured).toBe(false);
    expect(between.par).toBeGreaterThan(90);
    expect(between.par).toBeLessThan(225);
    expect(between.error).toBeGreaterThan((await lightAt('B2')).error);
    const page = await hand.get(answer.location ?? '');
    expect(page.body).toContain('immersion factor 1.25, applied here');
    const rack = await hand.get(`/racks/${ground.rackId}`);
    expect(rack.body).toMatch(
      /Light measured on 24 Nov 2026 at 5 slots, lamps at 50 %; between them estimated to within \d+\./,
    );
  });

  test('a meter that corrects by itself is never corrected again', async () => {
    const url = await fresh();
    await hand.post(url, { ...meter, ...readings, meter: 'Clever stick', shown: 'corrected' });
    expect(await lightAt('B2')).toMatchObject({ par: 180 });
  });

  test('another factor than the same meter had before is asked about, and taken once it was looked at again', async () => {
    const url = await fresh();
    await hand.post(url, { ...meter, ...readings });
    const other = { ...meter, ...readings, meter: meter.meter.toLowerCase(), immersionFactor: '1.32' };
    const refused = await hand.post(url, other);
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('this meter had the factor 1.25, applied here');
    expect(refused.body).toContain('name="factorChecked"');
    expect(refused.body).toContain('value="180"');
    expect((await hand.post(url, { ...other, factorChecked: 'yes' })).status).toBe(303);
  });

  test('light that differs by just the factor from the survey before raises a doubt', async () => {
    const url = await fresh();
    await hand.post(url, { ...meter, ...readings, measuredAt: '2026-11-01T12:00' });
    const twice = Object.fromEntries(
      Object.entries(readings).map(([slot, raw]) => [slot, String(Number(raw) * 1.25)]),
    );
    const answer = await hand.post(url, { ...meter, ...twice });
    expect((await hand.get(answer.location ?? '')).body).toContain(
      'look whether the factor was applied twice',
    );
  });

  test('too few readings, words for numbers and a time to come are refused beside their fields', async () => {
    const url = await fresh();
    const few = await hand.post(url, { ...meter, A1: '80', B2: '90' });
    expect(few.body).toContain('Enter the light at three slots at least');
    const typo = await hand.post(url, { ...meter, ...readings, C2: '8o', measuredAt: '2027-01-01T08:00' });
    expect(typo.status).toBe(422);
    expect(typo.body).toContain('href="#C2"');
    expect(typo.body).toContain('value="8o"');
    expect(typo.body).toContain('That is in the future.');
    expect(await bench.service.db.lightSurvey.count({ where: { rackId: ground.rackId } })).toBe(0);
  });

  test('a pasted sheet or CSV is read into the slots; what cannot be read is said and kept', async () => {
    const url = await fresh();
    const sheet = '\t1\t2\t3\nA\t80\t\t88\nB\t\t180,5\t\nC\t72\t-\t80';
    const sent = await hand.post(url, { ...meter, pasted: sheet });
    expect(sent.status).toBe(303);
    expect(await lightAt('B2')).toMatchObject({ par: 180.5 * 1.25, measured: true });
    const wrong = await hand.post(url, { ...meter, pasted: 'slot,par\nA1,80\nK7,90' });
    expect(wrong.status).toBe(422);
    expect(wrong.body).toContain('there is no slot K7 on this rack');
    expect(wrong.body).toContain('K7,90</textarea>');
    const typo = await hand.post(url, { ...meter, pasted: 'A1;80\nB2;9o\nC3;70\nC1;60' });
    expect(typo.body).toContain('href="#B2"');
    expect(typo.body).toContain('value="9o"');
  });

  test('says how sure it is, what it extrapolates, and where to measure next', async () => {
    const url = await fresh();
    const few = { A1: '80', B2: '180', C1: '72' };
    const answer = await hand.post(url, { ...meter, ...few });
    const page = (await hand.get(answer.location ?? '')).body;
    expect(page).toMatch(/Estimates between readings are within about <span class="fig">\d+/);
    expect(page).toContain('that is assumed');
    expect(page).toMatch(/\d slots are rough guesses, marked \?/);
    expect(page).toMatch(/Where another reading helps most: <strong>[ABC]3/);
    const next = (await hand.get(`${url}/new`)).body;
    expect(next).toMatch(/<span class="unseen">[ABC]3, estimated \d+, measure next<\/span>/);
  });

  test('rows and columns count at their real distance once slots have a size', async () => {
    const url = await fresh();
    await hand.post(url, { ...meter, ...readings, A1: '60', measuredAt: '2026-11-01T12:00' });
    const { par: even } = await lightAt('A2');
    const size = { slotWidthMm: 100, slotDepthMm: 20 };
    await bench.service.db.rack.update({ where: { id: ground.rackId }, data: size });
    await hand.post(url, { ...meter, ...readings, A1: '60' });
    const [first, second] = await bench.service.db.slotLight.findMany({
      where: { slotId: ground.slots.A2 as string },
      orderBy: { survey: { measuredAt: 'asc' } },
    });
    expect(first?.par).toBe(even);
    // The reading beneath it, bright, is now five times nearer than those at its sides.
    expect(second?.par).toBeGreaterThan(even + 5);
  });

  test('corrected light is never compared with what a sensor showed', async () => {
    const url = await fresh();
    await hand.post(url, { ...meter, ...readings, immersionFactor: '1', measuredAt: '2026-11-01T12:00' });
    const answer = await hand.post(url, { ...meter, ...readings, meter: 'Another' });
    const page = (await hand.get(answer.location ?? '')).body;
    expect(page).toContain(
      'Not compared with the survey of 1 Nov 2026: one of the two was entered with the factor 1',
    );
    expect(page).not.toContain('Beside the survey of');
  });

  test('light is compared with the survey before only while the rack was mounted alike', async () => {
    const url = await fresh();
    const { db } = bench.service;
    await db.rack.update({ where: { id: ground.rackId }, data: { createdAt: new Date('2026-01-01') } });
    await hand.post(url, { ...meter, ...readings, measuredAt: '2026-11-01T12:00' });
    const second = await hand.post(url, { ...meter, ...readings, measuredAt: '2026-11-02T12:00' });
    expect((await hand.get(second.location ?? '')).body).toContain(
      'Beside the survey of 1 Nov 2026, light under water with light under water',
    );
    const rack = { name: 'Window rack', rows: '3', columns: '3', base: 'egg_crate', lampId: ground.lampId };
    const deeper = { ...rack, depthMm: '40', version: '1' };
    expect((await manager.post(`/farm/racks/${ground.rackId}`, deeper)).status).toBe(303);
    const third = await hand.post(url, { ...meter, ...readings });
    const page = (await hand.get(third.location ?? '')).body;
    expect(page).toContain('Not compared with the survey of 2 Nov 2026: the rack was changed since.');
    expect(page).not.toContain('Beside the survey of');
  });

  test('a form sent twice is one survey', async () => {
    const url = await fresh();
    const key = /name="_key" value="([^"]+)"/.exec((await hand.get(`${url}/new`)).body)?.[1];
    const first = await hand.post(url, { ...meter, ...readings, _key: key });
    const second = await hand.post(url, { ...meter, ...readings, _key: key });
    expect(second.location).toBe(first.location);
    expect(await bench.service.db.lightSurvey.count({ where: { rackId: ground.rackId } })).toBe(1);
  });

  test('lamps found at another setting than noted: their history follows only when they stay there', async () => {
    const url = await fresh();
    await hand.post(url, { ...meter, ...readings, lampPercent: '70' });
    expect(await bench.service.db.lampSetting.count({ where: { lampId: ground.lampId } })).toBe(1);
    expect((await hand.get(`/racks/${ground.rackId}`)).body).toContain(
      'Lamps are at 50 %: the numbers below are scaled',
    );
    await hand.post(url, { ...meter, ...readings, lampPercent: '70', settingStays: 'yes' });
    const settings = await bench.service.db.lampSetting.findMany({
      where: { lampId: ground.lampId },
      orderBy: { at: 'asc' },
    });
    expect(settings.map((one) => one.percent)).toEqual([50, 70]);
    expect(settings[1]).toMatchObject({ at: benchNow, litHours: 10, rampHours: 1 });
  });

  test('the manager voids a survey with a reason: the one before holds again, and both stay in sight', async () => {
    const url = await fresh();
    await hand.post(url, { ...meter, ...readings, measuredAt: '2026-11-01T12:00' });
    const wrong = await hand.post(url, { ...meter, ...readings, B2: '400' });
    expect((await hand.post(`${wrong.location}/voiding`, { reason: 'x' })).status).toBe(403);
    expect((await manager.post(`${wrong.location}/voiding`, { reason: '' })).status).toBe(422);
    await manager.post(`${wrong.location}/voiding`, { reason: 'Held over the rim' });
    expect((await hand.get(`/racks/${ground.rackId}`)).body).toContain('Light measured on 1 Nov 2026');
    expect((await hand.get(url)).body).toContain('Held over the rim');
    expect((await manager.post(`${wrong.location}/voiding`, { reason: 'again' })).status).toBe(409);
    const { rows } = await bench.service.pool.query('SELECT par FROM slot_light_now WHERE slot_id = $1', [
      ground.slots.B2,
    ]);
    expect(rows).toEqual([{ par: 225 }]);
  });

  test('another program sends a survey as JSON, and is told by problem details what is wrong', async () => {
    await fresh();
    const body = {
      rackId: ground.rackId,
      measuredAt: '2026-11-24T06:00:00+01:00',
      meter: 'Logger',
      immersionFactor: 1.08,
      factorInMeter: false,
      lampPercent: 50,
      points: [
        { slot: 'A1', raw: 100 },
        { slot: 'B2', raw: 120 },
        { slot: 'C3', raw: 90 },
      ],
    };
    const sent = await hand.send('/api/light-surveys', body);
    expect(sent.status).toBe(201);
    expect(await bench.service.db.lightSurvey.findFirst({ where: { rackId: ground.rackId } })).toMatchObject({
      measuredAt: new Date('2026-11-24T05:00:00Z'),
    });
    // What the lamps stood at is taken from their history, and asked for where nobody entered it.
    const { lampPercent: _, ...unsaid } = body;
    expect((await hand.send('/api/light-surveys', unsaid)).json()).toMatchObject({
      lampPercent: 50,
      asks: null,
    });
    const early = { ...unsaid, measuredAt: '2026-02-01T06:00:00Z' };
    expect((await hand.send('/api/light-surveys', early)).json()).toMatchObject({
      lampPercent: null,
      asks: expect.stringMatching(/^At what per cent did the lamps of Window rack stand/),
    });
    const nowhere = await hand.send('/api/light-surveys', {
      ...body,
      points: [...body.points, { slot: 'D9', raw: 1 }],
    });
    expect(nowhere.status).toBe(422);
    expect(nowhere.json()).toMatchObject({
      detail: 'There is no slot D9 on Window rack.',
      errors: [{ field: 'points.3.slot' }],
    });
    const ahead = await hand.send('/api/light-surveys', { ...body, measuredAt: '2026-11-24T09:00:00Z' });
    expect(ahead.json()).toMatchObject({ status: 422, errors: [{ field: 'measuredAt' }] });
    const rack = (await hand.get(`/api/racks/${ground.rackId}`)).json();
    expect(rack).toMatchObject({ name: 'Window rack', light: { readings: 3, surveyPercent: 50 } });
    expect((rack as { slots: unknown[] }).slots[0]).toMatchObject({
      name: 'A1',
      flow: null,
      light: { par: 108, measured: true },
      lot: null,
    });
  });
});
