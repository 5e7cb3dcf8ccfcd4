import { addSystem } from '../../src/farm/systems/systems.ts';
import { addTank } from '../../src/farm/tanks/tanks.ts';
import { change } from '../../src/platform/change.ts';
import type { Service } from '../../src/platform/service.ts';
import { daysBefore } from '../../src/science/numeric/time.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { addLot } from '../../src/stock/lots/lots.ts';
import { addTreatment } from '../../src/stock/pests/treatments.ts';
import { noteLook } from '../../src/stock/pests/watches.ts';
import { setQuarantine } from '../../src/stock/quarantine/quarantines.ts';
import { dayTemperatures } from '../../src/water/record/temperatures.ts';
import { recordDelivery } from './delivery-record.ts';

/** Days before today: the boxes came, the first worms were seen, the bath, a look at the whole water. */
const [CAME, SEEN, BATHED, LOOKED] = [15, 14, 12, 3] as const;
/** By the glass thermometer, day after day: a water that never moves would be a thermometer that sticks. */
const degC = [26, 26.2, 26.1, 26.3] as const;
const volumeL = 320;
const PIECES = [4, 3, 6, 2] as const;

/**
 * A delivery of two weeks ago that brought flatworms: four lots in a quarantine of their own water, worms seen on one the
 * next day, a bath, and a look that found two more. The rest of the farm shares no water with it.
 */
export async function receiveDelivery(service: Service): Promise<{ systemId: string }> {
  const { db } = service;
  const now = service.now();
  const site = await db.site.findFirstOrThrow({ orderBy: { createdAt: 'asc' } });
  const manager = await db.account.findFirstOrThrow({ where: { role: 'manager' } });
  const hand = await db.account.findFirstOrThrow({ where: { role: 'hand' } });
  const kind = await db.kind.findUniqueOrThrow({ where: { code: 'acropora-tenuis' } });
  const method = await db.method.findFirstOrThrow({
    where: { quantityCode: 'temperature', everyMinutes: null },
    orderBy: { name: 'asc' },
  });
  const made = await change(service, { accountId: manager.id }, async (work) => {
    const name = 'Arrivals';
    const system = await addSystem(
      work,
      site.id,
      { name, volumeL, note: 'Boxes that came wait here, in water of their own.', stockKindId: null },
      async () => {},
    );
    const size = { lengthMm: 900, widthMm: 600, heightMm: 450 };
    const tank = await addTank(work, system.id, { name, ...size, quarantine: true, ownWater: '', note: '' });
    return { systemId: system.id, tankId: tank.id };
  });
  const rack = { rows: 2, columns: 6, depthMm: 180 };
  const { id: rackId } = await db.rack.create({ data: { ...rack, tankId: made.tankId, name: 'Q1' } });
  await db.slot.createMany({
    data: Array.from({ length: rack.rows * rack.columns }, (_, i) => ({
      rackId,
      row: 1 + Math.floor(i / rack.columns),
      column: 1 + (i % rack.columns),
    })),
  });
  await db.reading.createMany({
    data: Array.from({ length: CAME + 1 }, (_, days) => {
      const value = degC[days % degC.length] as number;
      return {
        ...{ systemId: made.systemId, quantityCode: 'temperature', methodId: method.id },
        ...{ at: daysBefore(now, days), value, uncertainty: 0.2, accountId: hand.id },
        ...{ enteredText: String(value), enteredUnit: 'degC' },
      };
    }),
  });
  const slots = await db.slot.findMany({ where: { rackId }, orderBy: [{ row: 'asc' }, { column: 'asc' }] });
  const lot = {
    ...{ siteId: site.id, kindId: kind.id, permit: '', sizeMm: 40, isMother: false, note: '' },
    ...{ origin: 'A delivery by road', arrivedAt: daysBefore(now, CAME), identification: null },
  };
  await change(service, { accountId: hand.id }, async (work) => {
    const lots: { id: string }[] = [];
    for (const pieces of PIECES) {
      const slotIds = [slots[lots.length]?.id ?? ''];
      lots.push(await addLot(work, { ...lot, pieces, slotIds }));
    }
    const boxes = {
      siteId: site.id,
      supplier: 'Ponta Clara corals',
      cameAt: daysBefore(now, CAME),
      boxDegC: 23.5,
      hours: 9,
    };
    await recordDelivery(
      work,
      boxes,
      lots.map(({ id }, i) => ({ id, name: '', pieces: PIECES[i] as number, par: 180 })),
    );
    const until = 'Two clean looks past the cycle of the worms';
    await setQuarantine(work, {
      tankId: made.tankId,
      purpose: 'pests',
      pest: 'acropora_flatworm',
      until,
      days: 45,
    });
    const [first, second] = lots;
    const pest = { state: 'pest' as const, grade: 1, pest: 'acropora_flatworm' };
    const lotId = first?.id ?? '';
    await noteCondition(work, {
      ...pest,
      lotId,
      pestCount: 9,
      note: 'Round bites',
      at: daysBefore(now, SEEN),
    });
    const watch = await work.tx.pestWatch.findFirstOrThrow({ where: { systemId: made.systemId } });
    await addTreatment(
      work,
      watch.id,
      {
        ...{
          product: 'Bath for stony corals',
          substance: '',
          doseALitre: 2,
          doseUnit: 'mL',
          litres: 8,
          minutes: 15,
        },
        ...{ labelLow: 1, labelHigh: 2, countedBefore: 11, notFor: 'Shrimps, snails and crabs', reason: '' },
        ...{ treated: lots.map(({ id }) => id), note: 'Eggs scraped off', at: daysBefore(now, BATHED) },
      },
      dayTemperatures,
    );
    for (const { id } of [first, second].filter((one) => one !== undefined))
      await noteCondition(work, {
        lotId: id,
        state: 'well',
        grade: null,
        note: '',
        at: daysBefore(now, LOOKED),
      });
    await noteLook(work, watch.id, {
      at: daysBefore(now, LOOKED),
      found: 2,
      note: 'Both on the back of one piece',
    });
  });
  return { systemId: made.systemId };
}
