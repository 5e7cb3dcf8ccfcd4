import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { cutLot } from '../../src/stock/cutting/cuts.ts';
import { lotCare } from '../../src/stock/kinds/care.ts';
import { dailyCourse } from '../../src/stock/light/daily-course.rules.ts';
import { lotLights } from '../../src/stock/light/lot-light.ts';
import { placeCareOf } from '../../src/stock/light/place-care.ts';
import { type Bench, startBench } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

describe('the light a lot is accustomed to', () => {
  let bench: Bench;
  let shelf: Shelf;
  const day = (n: number) => new Date(Date.UTC(2026, 9, 1 + n));
  const lightOf = async (id: string, now: Date) => {
    const { pool } = bench.service;
    const care = await lotCare(pool, { lotIds: [id] });
    const light = (await lotLights(pool, [id], care, now)).get(id);
    if (light === undefined) throw new Error('no light');
    return light;
  };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    const { db } = bench.service;
    const rack = await db.rack.findUniqueOrThrow({ where: { id: shelf.rackId } });
    const lamp = await db.lamp.create({
      data: { tankId: rack.tankId, name: 'Lamps', litHours: 10, rampHours: 0 },
    });
    await db.lampSetting.create({ data: { lampId: lamp.id, at: day(-30), percent: 50 } });
    await db.rack.update({ where: { id: rack.id }, data: { lampId: lamp.id } });
    const survey = await db.lightSurvey.create({
      data: { rackId: rack.id, measuredAt: day(-20), meter: 'M', immersionFactor: 1.32, lampPercent: 50 },
    });
    const par = { A1: 50, A2: 150, B1: 100 };
    await db.slotLight.createMany({
      data: Object.entries(par).map(([name, value]) => ({
        ...{ surveyId: survey.id, slotId: shelf.slot(name), par: value, error: 5, measured: true },
      })),
    });
  });
  afterAll(() => bench.close());

  test('of a cut begins at what its mother had, not at the light where it is put', async () => {
    const mother = await shelf.lot({ arrivedAt: day(0), slotIds: [shelf.slot('A1')] });
    const cut = await bench.change((work) =>
      cutLot(work, {
        ...{ fromLotId: mother.id, pieces: 3, usedUp: 0, at: day(20), method: '', sizeMm: null, note: '' },
        despite: 'it broke',
        slotIds: [shelf.slot('A2')],
      }),
    );
    const dim = (50 * 10 * 3600) / 1e6;
    const bright = (150 * 10 * 3600) / 1e6;
    expect((await lightOf(mother.id, day(25))).accustomed).toBeCloseTo(dim, 6);
    const atOnce = await lightOf(cut.id, day(20));
    expect(atOnce.accustomed).toBeCloseTo(dim, 6);
    expect(atOnce.now?.dli).toBeCloseTo(bright, 6);
    // First-order adaptation: after one time constant 1 - 1/e of the change.
    const days = (await lotCare(bench.service.pool, { lotIds: [cut.id] })).get(cut.id)?.adaptation_days?.high;
    const later = await lightOf(cut.id, day(20 + (days ?? Number.NaN)));
    expect(later.accustomed).toBeCloseTo(bright - (bright - dim) / Math.E, 6);
    const moved = await placeCareOf(bench.service.pool, [cut.id], day(20));
    expect(moved.get(cut.id)?.accustomed, 'what a move is judged by').toBeCloseTo(dim, 6);
  });

  test('of a lot in acclimation since it came begins at what the acclimation states', async () => {
    const lot = await shelf.lot({ arrivedAt: day(0), slotIds: [shelf.slot('B1')] });
    const site = await bench.service.db.site.findFirstOrThrow();
    const had = 1.2;
    const plan = { maxStepRatio: 1.2, dwellDays: 7, targetDli: 5, name: 'Delivery', reason: '' };
    await bench.service.db.acclimation.create({
      data: {
        ...plan,
        siteId: site.id,
        purpose: 'brighter',
        received: 'stated',
        fromDli: had,
        startsOn: day(0),
        createdAt: day(0),
        lots: { create: [{ lotId: lot.id }] },
      },
    });
    const care = (await lotCare(bench.service.pool, { lotIds: [lot.id] })).get(lot.id) ?? {};
    const days = care.adaptation_days?.high ?? Number.NaN;
    const light = await lightOf(lot.id, day(days));
    const got = (100 * 10 * 3600) / 1e6;
    expect(light.now?.dli).toBeCloseTo(got, 6);
    expect(light.accustomed).toBeCloseTo(got - (got - had) / Math.E, 6);
    const course = dailyCourse(light, care, day(-100), day(days));
    expect(course[0]?.at).toEqual(day(0));
    expect(course[0]?.accustomed).toBeCloseTo(had, 9);
    expect(course.at(-1)?.accustomed).toBeCloseTo(light.accustomed ?? Number.NaN, 9);
    expect(course.at(-1)?.received).toBe(light.now?.dli);
  });

  test('is not known of a lot that never stood in measured light', async () => {
    const lot = await shelf.lot({ slotIds: [shelf.slot('B5')] });
    expect(await lightOf(lot.id, day(50))).toMatchObject({ now: null, accustomed: null });
  });
});
