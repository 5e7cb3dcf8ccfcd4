import { uuidv7 } from 'uuidv7';
import type { PlanInput } from '../../src/rounds/plans/plans.schema.ts';
import { addPlan } from '../../src/rounds/plans/plans.ts';
import { beginRound } from '../../src/rounds/round/rounds.ts';
import { addLot } from '../../src/stock/lots/lots.ts';
import { layRack } from '../farm/ground.ts';
import type { Bench } from '../support/service.ts';

export const zone = 'Europe/Lisbon';

/** A site with one system, one tank and three racks; two lots on the first, one on the second, the third empty. */
export interface Hall {
  siteId: string;
  systemId: string;
  tankId: string;
  window: string;
  wall: string;
  empty: string;
  /** Lots by the slot they stand in, `A1` and `A2` on the window rack, `B1` on the wall rack. */
  lots: Record<'A1' | 'A2' | 'B1', { id: string; code: string }>;
}

/** Lays a hall on the farm's first site, or on a site of its own. */
export async function makeHall(bench: Bench, { apart = false } = {}): Promise<Hall> {
  const { db } = bench.service;
  const first = apart ? null : await db.site.findFirst({ orderBy: { createdAt: 'asc' } });
  const { id: siteId } =
    first ?? (await db.site.create({ data: { name: `Saltgate ${uuidv7()}`, timeZone: zone } }));
  const system = await db.system.create({
    data: { siteId, name: `Shallow ${uuidv7().slice(-6)}`, volumeL: 1800 },
  });
  const size = { lengthMm: 2000, widthMm: 800, heightMm: 400 };
  const tank = await db.tank.create({ data: { systemId: system.id, name: 'Tank 1', ...size } });
  const lay = async (name: string, position: number) => {
    const rack = await layRack(bench, { tankId: tank.id, lampId: null }, { name });
    await db.rack.update({ where: { id: rack.rackId }, data: { position } });
    return rack;
  };
  const window = await lay('Window rack', 1);
  const wall = await lay('Wall rack', 2);
  const empty = await lay('Bare rack', 3);
  const { id: kindId } = await db.kind.findUniqueOrThrow({ where: { code: 'goniastrea-retiformis' } });
  const place = (slotId: string | undefined, pieces: number) =>
    bench.change((work) =>
      addLot(work, {
        siteId,
        kindId,
        pieces,
        arrivedAt: new Date('2026-11-01T09:00:00Z'),
        origin: 'Grown here',
        permit: '',
        sizeMm: 30,
        isMother: false,
        note: '',
        identification: null,
        slotIds: slotId === undefined ? [] : [slotId],
      }),
    );
  return {
    siteId,
    systemId: system.id,
    tankId: tank.id,
    window: window.rackId,
    wall: wall.rackId,
    empty: empty.rackId,
    lots: {
      A1: await place(window.slots.A1, 5),
      A2: await place(window.slots.A2, 1),
      B1: await place(wall.slots.B1, 5),
    },
  };
}

/** Plans a round past the hall's tank: every day at 07:30, all steps, unless told otherwise. */
export async function planRound(
  bench: Bench,
  hall: Pick<Hall, 'siteId' | 'tankId'>,
  input: Partial<PlanInput> = {},
): Promise<string> {
  const plan: PlanInput = {
    name: `Morning round ${uuidv7()}`,
    startsAt: '07:30',
    weekdays: [1, 2, 3, 4, 5, 6, 7],
    steps: ['look', 'test', 'feed'],
    chores: [],
    assigneeId: null,
    paused: false,
    version: 0,
    tankIds: [hall.tankId],
    ...input,
  };
  return (await bench.change((work) => addPlan(work, hall.siteId, plan))).id;
}

/** Begins a round of a plan on a local day. */
export async function begin(
  bench: Bench,
  hall: Pick<Hall, 'siteId'>,
  planId: string,
  day: string,
): Promise<string> {
  const site = { id: hall.siteId, timeZone: zone };
  return (await bench.change((work) => beginRound(work, site, { planId, day }))).id;
}
