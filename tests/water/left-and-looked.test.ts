import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { dayOf } from '../../src/science/numeric/time.ts';
import { dosesAsSeen } from '../../src/water/demand/doses-as-seen.rules.ts';
import { loadLeft } from '../../src/water/record/left.ts';
import { loadLooked } from '../../src/water/record/looked.ts';
import { loadDoses } from '../../src/water/record/record.ts';
import { fillFarm } from '../bench/farm/fill.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';

let bench: Bench;
let systemId: string;
const ago = (days: number) => new Date(benchNow.getTime() - days * 86_400_000);
const span = { from: benchNow, now: benchNow };

beforeAll(async () => {
  bench = await startBench({ watching: false });
  await fillFarm(bench.service.pool, { systems: 1, lots: 10, years: 0.1 }, benchNow);
  systemId = (await bench.service.db.system.findFirstOrThrow()).id;
});
afterAll(() => bench.close());

describe('stock that left a water', () => {
  test('is told as its part of the pieces that stood there, by day', async () => {
    const { db, pool } = bench.service;
    const lots = await db.lot.findMany();
    const pieces = lots.reduce((sum, lot) => sum + lot.pieces, 0);
    const [one, other] = lots.filter((lot) => lot.pieces > 1);
    const entry = (lotId: string, change: number, reason: 'sold' | 'recount' | 'lost') =>
      db.ledgerEntry.create({ data: { lotId, at: ago(3), change, reason } });
    await entry(one?.id ?? '', -1, 'sold');
    await entry(other?.id ?? '', -1, 'lost');
    await entry(other?.id ?? '', 1, 'recount');
    const left = (await loadLeft(pool, [systemId], span)).get(systemId) ?? [];
    const last = left.at(-1);
    expect(Math.floor(last?.day ?? 0)).toBe(Math.floor(dayOf(ago(3))));
    expect(last?.share).toBeCloseTo(2 / pieces, 10);
  });

  test('is nothing where a lot goes to another rack of the same water', async () => {
    const before = await loadLeft(bench.service.pool, [systemId], span);
    const { db } = bench.service;
    const placement = await db.placement.findFirstOrThrow({
      where: { toAt: null },
      include: { slots: true },
    });
    await db.placement.update({ where: { id: placement.id }, data: { toAt: ago(5) } });
    const moved = await db.placement.create({ data: { lotId: placement.lotId, fromAt: ago(5) } });
    for (const { slotId } of placement.slots)
      await db.placementSlot.create({ data: { placementId: moved.id, slotId } });
    expect(await loadLeft(bench.service.pool, [systemId], span)).toEqual(before);
  });
});

describe('a doser whose container was looked into', () => {
  test('gave what went out of it, and a hand what was logged', async () => {
    const { db, pool } = bench.service;
    await db.dose.deleteMany();
    const { volumeL } = await db.system.findUniqueOrThrow({ where: { id: systemId } });
    const data = { systemId, kind: 'doser' as const, name: 'Doser', reservoirL: 5 };
    const { id: equipmentId } = await db.equipment.create({
      data: { ...data, strengthCode: 'alkalinity', strength: 1000 },
    });
    await db.containerLevel.create({ data: { equipmentId, at: ago(8), afterL: 5 } });
    await db.containerLevel.create({ data: { equipmentId, at: ago(3), seenL: 3, afterL: 5 } });
    const account = await db.account.findFirst();
    const dose = (days: number, ml: number, accountId: string | null) =>
      db.dose.create({
        data: {
          ...{ systemId, at: ago(days), substance: 'sodium carbonate', amount: ml, unit: 'mL', accountId },
          ...{ quantityCode: 'alkalinity', effect: ml / volumeL },
        },
      });
    // 2 L went out where 2.5 L were told in five days: 1 meq/mL.
    for (const days of [7.5, 6.5, 5.5, 4.5, 3.5]) await dose(days, 500, null);
    await dose(1.5, 500, null);
    if (account !== null) await dose(5, 100, account.id);
    const looked = (await loadLooked(pool, [systemId], span)).get(systemId) ?? [];
    expect(looked).toMatchObject([{ doserId: equipmentId, quantityCode: 'alkalinity' }]);
    expect(looked[0]?.factor).toBeCloseTo(0.8, 10);
    const doses = (await loadDoses(pool, [systemId], span)).get(systemId) ?? [];
    const given = dosesAsSeen(doses, looked).map(({ rise }) => Math.round((rise ?? 0) * volumeL));
    expect(given).toEqual([400, 400, 400, ...(account === null ? [] : [100]), 400, 400, 400]);
  });
});
