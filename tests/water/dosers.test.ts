import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { postDueDoses } from '../../src/water/dosers/posting.ts';
import { type DoserRecord, type LocalDay, reckonDoser } from '../../src/water/dosers/reckoning.rules.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from './farm.ts';

const hour = 3_600_000;
const daysFrom = (count: number): LocalDay[] =>
  Array.from({ length: count }, (_, i) => ({
    day: `day ${i}`,
    startMs: i * 24 * hour,
    endMs: (i + 1) * 24 * hour,
  }));
const plan = { fromMs: 0, untilMs: null, perDay: 100, unit: 'mL' as const };
const doser = (more: Partial<DoserRecord> = {}): DoserRecord => ({
  ...{ plans: [plan], calibrations: [], off: [], levels: [], capacityL: 5 },
  ...more,
});
const mls = (record: DoserRecord, days = 4) =>
  reckonDoser(record, daysFrom(days)).days.map(({ ml }) => Number(ml.toFixed(6)));

// Expected values by hand: amounts are sums of rate times time (mass balance); no library has this.
describe('what a doser gave, as reckoned', () => {
  test('is its plan, by the day', () => {
    expect(mls(doser())).toEqual([100, 100, 100, 100]);
  });

  test('by minutes is the calibrated rate times the minutes', () => {
    const calibrations = [{ ms: 0, mlPer: 2.5, per: 'minute' as const }];
    expect(mls(doser({ plans: [{ ...plan, perDay: 60, unit: 'minutes' }], calibrations }), 2)).toEqual([
      150, 150,
    ]);
  });

  test('by minutes of which nobody measured one is nothing', () => {
    expect(mls(doser({ plans: [{ ...plan, perDay: 60, unit: 'minutes' }] }), 2)).toEqual([0, 0]);
  });

  test('drifts evenly from one calibration to the next, and is as set from then on', () => {
    // Rate 2 mL a minute falls to 1.6 within four days: the middle of each day at 97.5, 92.5, 87.5 and 82.5 %.
    const calibrations = [
      { ms: 0, mlPer: 2, per: 'minute' as const },
      { ms: 96 * hour, mlPer: 1.6, per: 'minute' as const },
    ];
    expect(mls(doser({ calibrations }), 5)).toEqual([97.5, 92.5, 87.5, 82.5, 100]);
  });

  test('is less by the time it was off, also while it still is', () => {
    const off = [
      { fromMs: 6 * hour, untilMs: 12 * hour },
      { fromMs: 60 * hour, untilMs: null },
    ];
    expect(mls(doser({ off }))).toEqual([75, 100, 50, 0]);
  });

  test('ends with its container', () => {
    const { days, leftL } = reckonDoser(
      doser({ levels: [{ ms: 0, seenL: null, afterL: 0.25 }] }),
      daysFrom(4),
    );
    expect(days.map(({ ml }) => ml)).toEqual([100, 100, 50, 0]);
    expect(leftL).toBe(0);
  });

  test('follows a level that was seen: the days before it, and those after at the same share', () => {
    // 2 L filled, 1.4 L left after four days where 1.6 L were reckoned: 600 mL went out, not 400, 150 a day.
    const levels = [
      { ms: 0, seenL: null, afterL: 2 },
      { ms: 96 * hour, seenL: 1.4, afterL: 1.4 },
    ];
    const { days, checks, leftL } = reckonDoser(doser({ levels }), daysFrom(6));
    expect(days.map(({ ml }) => Number(ml.toFixed(6)))).toEqual([150, 150, 150, 150, 150, 150]);
    expect(checks).toMatchObject([{ seenL: 1.4, measuredMl: 600, reckonedMl: 400, differs: true }]);
    expect(leftL).toBeCloseTo(1.1, 9);
  });

  test('stays as it is where a level agrees within what can be read', () => {
    // A twentieth of a litre on a container of 5 L: sqrt(2) of a fiftieth of it, 141 mL, is what two looks resolve.
    const levels = [
      { ms: 0, seenL: null, afterL: 2 },
      { ms: 96 * hour, seenL: 1.65, afterL: 1.65 },
    ];
    expect(mls(doser({ levels }), 5)).toEqual([100, 100, 100, 100, 100]);
  });

  test('goes back to the plan once it is calibrated anew', () => {
    const levels = [
      { ms: 0, seenL: null, afterL: 2 },
      { ms: 48 * hour, seenL: 1.6, afterL: 1.6 },
    ];
    const calibrations = [{ ms: 72 * hour, mlPer: 2, per: 'minute' as const }];
    expect(mls(doser({ levels, calibrations }))).toEqual([200, 200, 200, 100]);
  });
});

describe('a doser that posts its dose by itself', () => {
  let bench: Bench;
  let manager: Visitor;
  let hand: Visitor;
  let systemId: string;
  let doserId: string;
  let farms = 0;
  const at = () => `/water/dosers/${doserId}`;
  const doses = () =>
    bench.service.db.dose.findMany({ where: { doserId, voidedAt: null }, orderBy: { at: 'asc' } });
  const amounts = async () => (await doses()).map(({ amount }) => Number(amount.toFixed(3)));
  const plans = (more: Record<string, unknown> = {}) =>
    manager.post(`${at()}/plan`, {
      substance: 'sodium carbonate',
      perDay: '60',
      unit: 'mL',
      at: '2026-11-21T00:00',
      ...more,
    });

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    await makeSystem(bench, 'First');
    manager = await bench.as('manager', 'Ines Varga');
    hand = await bench.as('hand', 'Rui Sato');
  });
  afterAll(() => bench.close());
  beforeEach(async () => {
    farms += 1;
    bench.at('2026-11-24T08:00:00Z');
    systemId = await makeSystem(bench, `Run ${farms}`);
    const data = {
      systemId,
      kind: 'doser' as const,
      name: 'Soda doser',
      reservoirL: 5,
      strengthCode: 'alkalinity',
      strength: 1000,
    };
    doserId = (await bench.service.db.equipment.create({ data })).id;
  });

  test('has one dose a day until yesterday, with what it raises and the mark that it is reckoned', async () => {
    expect((await plans()).status).toBe(303);
    const posted = await doses();
    expect(posted.map(({ doserDay }) => doserDay?.toISOString().slice(0, 10))).toEqual([
      '2026-11-21',
      '2026-11-22',
      '2026-11-23',
    ]);
    // 60 mL of 1,000 meq/L in 1,000 L: 0.06 meq/L by mass balance.
    expect(posted[0]).toMatchObject({ amount: 60, unit: 'mL', quantityCode: 'alkalinity' });
    expect(posted[0]?.effect).toBeCloseTo(0.06, 9);
    expect((await manager.get(`/water/systems/${systemId}/doses`)).body).toContain(
      'by the doser Soda doser, calculated',
    );
    expect((await hand.get(at())).body).toContain('60 mL a day of sodium carbonate');
  });

  test('catches up once the service was down, and posts nothing twice', async () => {
    await plans();
    bench.at('2026-11-29T07:00:00Z');
    await postDueDoses(bench.service);
    await postDueDoses(bench.service);
    expect(await amounts()).toEqual(Array.from({ length: 8 }, () => 60));
  });

  test('posts less of a day on which it was off, and nothing while it still is', async () => {
    await plans();
    await bench.service.db.switchedOff.create({
      data: {
        ...{ systemId, equipmentId: doserId, thing: 'doser', what: 'Soda doser', why: 'cleaning' },
        ...{
          offAt: new Date('2026-11-24T12:00:00Z'),
          dueAt: new Date('2026-11-24T13:00:00Z'),
          lateAt: new Date('2026-11-24T14:00:00Z'),
        },
      },
    });
    bench.at('2026-11-27T07:00:00Z');
    await postDueDoses(bench.service);
    expect(await amounts()).toEqual([60, 60, 60, 30]);
    expect((await manager.get(at())).body).toContain('nothing is posted while it is off');
  });

  test('runs by its own clock where the clocks change, drifts between two calibrations, and stops while it is off', async () => {
    // Lisbon has 25 hours on 25 October 2026 (IANA tz database). From 2 mL a minute to 1.6 in 73 hours, the middle of the
    // days at 12, 36.5 and 61 hours; 48 minutes a day, 50 on the long one.
    bench.at('2026-10-30T08:00:00Z');
    const day = (n: number) => `2026-10-${n}T00:00`;
    for (const [n, ml] of [
      [24, '20'],
      [27, '16'],
    ] as const) {
      const measured = { ml, runs: '10', per: 'minute', at: day(n) };
      expect((await hand.post(`${at()}/calibrations`, measured)).status).toBe(303);
    }
    await bench.service.db.switchedOff.create({
      data: {
        ...{ systemId, equipmentId: doserId, thing: 'doser', what: 'Soda doser', why: 'cleaning' },
        ...{
          offAt: new Date('2026-10-28T00:00:00Z'),
          dueAt: new Date('2026-10-28T01:00:00Z'),
          lateAt: new Date('2026-10-28T02:00:00Z'),
          seenRunningAt: new Date('2026-10-30T00:00:00Z'),
        },
      },
    });
    await plans({ perDay: '48', unit: 'minutes', at: day(24) });
    const rate = (hours: number) => 2 - (0.4 * hours) / 73;
    const expected = [48 * rate(12), 50 * rate(36.5), 48 * rate(61), 48 * 1.6];
    expect(await amounts()).toEqual(expected.map((ml) => Number(ml.toFixed(3))));
  });

  test('is mended by a level that was seen, the difference is said, and a doser that gives less is a finding', async () => {
    await bench.service.db.containerLevel.create({
      data: { equipmentId: doserId, at: new Date('2026-11-21T00:00:00Z'), afterL: 2 },
    });
    await plans({ perDay: '200' });
    bench.at('2026-11-25T00:00:00Z');
    await postDueDoses(bench.service);
    expect(await amounts()).toEqual([200, 200, 200, 200]);
    // 1.6 L left of 2 L after four days: 400 mL went out where 800 mL were reckoned.
    const answer = await hand.post(`${at()}/levels`, { seenL: '1.6' });
    expect(answer.status, answer.body).toBe(303);
    expect((await hand.get(at())).body).toContain('gave 50 % less than it says');
    expect(await amounts()).toEqual([100, 100, 100, 100]);
    const voided = await bench.service.db.dose.findMany({ where: { doserId, voidedAt: { not: null } } });
    expect(voided).toHaveLength(4);
    expect(voided[0]?.voidReason).toContain('By the level seen in its container: 100 mL instead of 200 mL');
    const faults = await bench.service.db.fault.findMany({ where: { equipmentId: doserId } });
    expect(faults).toMatchObject([{ seen: 'Doser gives 50 % less than it says', mendedAt: null }]);
    expect((await manager.get(`/farm/equipment/${doserId}`)).body).toContain('1.6 L');
    await hand.post(`${at()}/calibrations`, { ml: '20', runs: '10', per: 'minute', againDays: '30' });
    expect((await bench.service.db.fault.findFirst({ where: { equipmentId: doserId } }))?.mended).toBe(
      'Calibrated: 2.00 mL a minute',
    );
  });

  test('whose container empties while it is off is a finding, which no calibration settles', async () => {
    await bench.service.db.containerLevel.create({
      data: { equipmentId: doserId, at: new Date('2026-11-21T00:00:00Z'), afterL: 4 },
    });
    await bench.service.db.switchedOff.create({
      data: {
        ...{ systemId, equipmentId: doserId, thing: 'doser', what: 'Soda doser', why: 'cleaning' },
        ...{
          offAt: new Date('2026-11-21T00:00:00Z'),
          dueAt: new Date('2026-11-21T01:00:00Z'),
          lateAt: new Date('2026-11-21T02:00:00Z'),
        },
      },
    });
    await plans();
    expect((await hand.post(`${at()}/levels`, { seenL: '1.5' })).status).toBe(303);
    const { body } = await hand.get(at());
    expect(body).toContain('gave 2.5 L where nothing was expected');
    expect(body).not.toContain('agrees');
    await hand.post(`${at()}/calibrations`, { ml: '20', runs: '10', per: 'minute' });
    expect(await bench.service.db.fault.findMany({ where: { equipmentId: doserId } })).toMatchObject([
      { seen: 'Doser gives 2.5 L where nothing was expected', mendedAt: null },
    ]);
  });

  test('counts one plan at a time, also where the next is set from before the last one ended', async () => {
    await plans();
    bench.at('2026-11-25T08:00:00Z');
    expect((await manager.post(`${at()}/stop`, {})).status).toBe(303);
    expect((await plans({ perDay: '40', at: '2026-11-23T00:00' })).status).toBe(303);
    expect(await amounts()).toEqual([60, 60, 40, 40]);
  });

  test('a plan or calibration that was entered by mistake is voided, and its days are reckoned without it', async () => {
    const { db } = bench.service;
    await plans();
    await plans({ perDay: '90', at: '2026-11-23T00:00' });
    expect(await amounts()).toEqual([60, 60, 90]);
    const [, wrong] = await db.doserPlan.findMany({
      where: { equipmentId: doserId },
      orderBy: { fromAt: 'asc' },
    });
    const voiding = `/water/doser-plans/${wrong?.id}/voiding`;
    expect((await manager.get(at())).body).toContain(`href="${voiding}"`);
    expect((await hand.post(voiding, { reason: 'x' })).status).toBe(403);
    expect((await manager.post(voiding, { reason: '' })).status).toBe(422);
    expect((await manager.post(voiding, { reason: 'meant for the other doser' })).status).toBe(303);
    expect(await amounts()).toEqual([60, 60, 60]);
    expect((await hand.get(at())).body).not.toContain('90 mL a day');
    await hand.post(`${at()}/calibrations`, { ml: '20', runs: '10', per: 'minute', at: '2026-11-20T08:00' });
    await hand.post(`${at()}/calibrations`, { ml: '2', runs: '10', per: 'minute', at: '2026-11-23T00:00' });
    expect(await amounts()).not.toEqual([60, 60, 60]);
    const slip = await db.doserCalibration.findFirstOrThrow({ where: { equipmentId: doserId, ml: 2 } });
    await manager.post(`/water/doser-calibrations/${slip.id}/voiding`, { reason: 'a point slipped' });
    expect(await amounts()).toEqual([60, 60, 60]);
    const [first] = await db.doserPlan.findMany({ where: { equipmentId: doserId, voidedAt: null } });
    expect(first?.untilAt).toBeNull();
    await manager.post(`/water/doser-plans/${first?.id}/voiding`, { reason: 'it was never switched on' });
    expect(await amounts()).toEqual([]);
    const lines = await db.journalLine.findMany({
      where: { subjectId: doserId, kind: { contains: '_voided' } },
    });
    expect(lines).toHaveLength(3);
  });

  test('says of each day what was dosed on that day raises', async () => {
    await bench.service.db.equipment.update({
      where: { id: doserId },
      data: { strengthCode: null, strength: null },
    });
    await plans({ substance: 'soda, 1 meq/mL' });
    await plans({ substance: 'a mix nobody knows', at: '2026-11-23T00:00' });
    const { body } = await manager.get(at());
    const rowOf = (day: string) => body.match(new RegExp(`>${day}[\\s\\S]*?</tr>`))?.[0];
    expect(rowOf('2026-11-22')).toContain('raises alkalinity by');
    expect(rowOf('2026-11-23')).toContain('what it raises is not known');
  });

  test('a level above what was in it is refused, since it must have been filled', async () => {
    await hand.post(`${at()}/levels`, { seenL: '1' });
    bench.at('2026-11-25T08:00:00Z');
    const { status, body } = await hand.post(`${at()}/levels`, { seenL: '3' });
    expect(status).toBe(422);
    expect(body).toContain('If it was filled since, say so');
  });

  test('a plan in minutes asks for a calibration first, and is then posted by it', async () => {
    const refused = await plans({ perDay: '30', unit: 'minutes' });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('Measure first what a minute gives');
    await hand.post(`${at()}/calibrations`, {
      ml: '25',
      runs: '10',
      per: 'minute',
      at: '2026-11-20T08:00',
      againDays: '3',
    });
    expect((await plans({ perDay: '30', unit: 'minutes' })).status).toBe(303);
    expect(await amounts()).toEqual([75, 75, 75]);
    expect((await hand.get(at())).body).toContain('Calibration due');
  });

  test('a plan beyond the daily cap wants a reason', async () => {
    const much = await plans({ perDay: '3000' });
    expect(much.status).toBe(422);
    expect(much.body).toContain('the cap is');
    expect((await plans({ perDay: '3000', reason: 'A heavy stock, tested daily' })).status).toBe(303);
  });

  test('a day that a person voids stays void', async () => {
    await plans();
    const [first] = await doses();
    await hand.post(`/water/doses/${first?.id}/voiding`, { reason: 'its tube had come off' });
    bench.at('2026-11-25T08:00:00Z');
    await postDueDoses(bench.service);
    expect(await amounts()).toEqual([60, 60, 60]);
  });

  describe('set from a past day on which the same doses were logged', () => {
    const bring = async (days: readonly string[], more: Record<string, unknown> = {}) => {
      for (const day of days)
        await bench.service.db.dose.create({
          data: {
            ...{
              systemId,
              substance: 'KH mix',
              amount: 60,
              unit: 'mL',
              quantityCode: 'alkalinity',
              effect: 0.06,
            },
            ...{
              at: new Date(`${day}T12:00:00Z`),
              accountId: (await bench.service.db.account.findFirstOrThrow()).id,
              ...more,
            },
          },
        });
    };
    const all = () =>
      bench.service.db.dose.aggregate({ where: { systemId, voidedAt: null }, _sum: { amount: true } });

    test('asks whether they are the same, and posts nothing until that is said', async () => {
      await bring(['2026-11-21', '2026-11-22', '2026-11-23']);
      const asked = await plans();
      expect(asked.status).toBe(409);
      expect(asked.body).toContain(
        'These days already hold 60 mL a day of it (3 doses). Are they the same doses?',
      );
      expect(asked.body).toContain('name="alreadyThere"');
      expect(await amounts()).toEqual([]);
    });

    test('begins after the last of them where they are: no day counts twice', async () => {
      await bring(['2026-11-21', '2026-11-22']);
      expect((await plans({ alreadyThere: 'same' })).status).toBe(303);
      expect((await manager.get(at())).body).toContain(
        'The 2 doses that were there stand for the days before',
      );
      expect((await all())._sum.amount).toBe(180);
      expect((await doses()).map(({ doserDay }) => doserDay?.toISOString().slice(0, 10))).toEqual([
        '2026-11-23',
      ]);
    });

    test('begins tomorrow where today holds one, and can be stopped before', async () => {
      await bring(['2026-11-23']);
      await bring(['2026-11-24'], { at: new Date('2026-11-24T07:00:00Z') });
      expect((await plans({ alreadyThere: 'same', at: '2026-11-22T00:00' })).status).toBe(303);
      expect(await amounts()).toEqual([]);
      expect((await manager.post(`${at()}/stop`, {})).status).toBe(303);
      bench.at('2026-11-27T08:00:00Z');
      await postDueDoses(bench.service);
      expect(await amounts()).toEqual([]);
    });

    test('counts both where they were given besides', async () => {
      await bring(['2026-11-21', '2026-11-22', '2026-11-23']);
      expect((await plans({ alreadyThere: 'both' })).status).toBe(303);
      expect((await manager.get(at())).body).toContain('The 3 doses that were there count beside it');
      expect((await all())._sum.amount).toBe(360);
    });

    test('asks nothing of another thing, of what is voided, or of days before', async () => {
      await bring(['2026-11-21'], { substance: 'calcium', quantityCode: 'calcium' });
      await bring(['2026-11-22'], { voidedAt: new Date('2026-11-23T00:00:00Z'), voidReason: 'a slip' });
      await bring(['2026-11-20']);
      expect((await plans()).status).toBe(303);
      expect(await amounts()).toEqual([60, 60, 60]);
    });

    test('a program is told by the field that it has to answer', async () => {
      await bring(['2026-11-21']);
      const sent = { substance: 'sodium carbonate', perDay: 60, unit: 'mL', at: '2026-11-21T00:00' };
      const answer = await manager.post(`${at()}/plan`, sent, { accept: 'application/json' });
      expect(answer.status, answer.body).toBe(409);
    });
  });

  describe('a dose logged on a day that its plan books', () => {
    const dose = (more: Record<string, unknown> = {}) => ({
      ...{ substance: 'sodium carbonate', amount: '60', unit: 'mL', at: '2026-11-22T10:00' },
      ...more,
    });
    const posts = (more: Record<string, unknown> = {}) =>
      hand.post(`/water/systems/${systemId}/doses`, dose(more));

    test('is asked about, and counts beside it only where that is said', async () => {
      await plans();
      const asked = await posts();
      expect(asked.status).toBe(409);
      expect(asked.body).toContain('The doser “Soda doser” gives 60 mL a day of it by its plan');
      expect(asked.body).toContain('It went in beside what the doser gives');
      expect((await posts({ beside: 'yes' })).status).toBe(303);
    });

    test('goes in unasked where it is more than the doser gives, dry, of another thing, or before the plan', async () => {
      await plans();
      const reason = 'a slip of the hand';
      expect((await posts({ amount: '20', unit: 'L', reason })).status).toBe(303);
      expect((await posts({ substance: 'sodium bicarbonate', amount: '5', unit: 'g', reason })).status).toBe(
        303,
      );
      expect((await posts({ substance: '40 mg/mL Ca', amount: '5', reason })).status).toBe(303);
      expect((await posts({ at: '2026-11-20T10:00', reason })).status).toBe(303);
    });

    test('is refused to a program with the field that says it is meant', async () => {
      await plans();
      const api = (more: Record<string, unknown> = {}) =>
        hand.post('/api/doses', { systemId, ...dose(more) }, { accept: 'application/json' });
      const refused = await api();
      expect(refused.status).toBe(409);
      expect(refused.json()).toMatchObject({ errors: [{ field: 'beside' }] });
      expect((await api({ beside: 'yes' })).status).toBe(201);
    });
  });

  test('is no chore, and does not tick off a routine dose of a person', async () => {
    await manager.post(`/water/systems/${systemId}/routines`, {
      ...{
        work: 'dose',
        substance: 'sodium bicarbonate',
        amount: '10',
        unit: 'g',
        cadence: 'days',
        everyDays: '1',
        startsOn: '2026-11-20',
      },
    });
    await plans();
    const due = (await hand.get(`/api/systems/${systemId}/due`, { accept: 'application/json' })).json();
    expect(JSON.stringify(due)).toContain('sodium bicarbonate');
    expect(JSON.stringify(due)).not.toContain('Soda doser');
  });
});
