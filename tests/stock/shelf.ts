import { addLot, type NewLot } from '../../src/stock/lots/lots.ts';
import type { Bench } from '../support/service.ts';
import { newSite } from '../support/site.ts';

/** A site with one system of one tank with one rack of 2 x 12 slots. */
export interface Shelf {
  siteId: string;
  systemId: string;
  rackId: string;
  /** Slot ids by name: `slot('A1')`. */
  slot(name: string): string;
  /** The id of a kind by its code in the care library. */
  kind(code: string): Promise<string>;
  /** Takes in a lot; five pieces of a brain coral without a place unless told otherwise. */
  lot(input?: Partial<NewLot>): Promise<{ id: string; code: string }>;
}

export async function makeShelf(bench: Bench): Promise<Shelf> {
  const { db } = bench.service;
  const site = await newSite(db);
  const system = await db.system.create({
    data: { siteId: site.id, name: 'Quiet water', volumeL: 1200 },
  });
  const tank = await db.tank.create({
    data: { systemId: system.id, name: 'Long tank', lengthMm: 2400, widthMm: 600, heightMm: 400 },
  });
  const rack = await db.rack.create({
    data: { tankId: tank.id, name: 'Rack S2', rows: 2, columns: 12, depthMm: 150 },
  });
  const cells = Array.from({ length: 24 }, (_, i) => ({ row: 1 + Math.floor(i / 12), column: 1 + (i % 12) }));
  await db.slot.createMany({ data: cells.map((cell) => ({ rackId: rack.id, ...cell })) });
  const slots = await db.slot.findMany({ where: { rackId: rack.id } });
  const slot = (name: string) => {
    const found = slots.find((one) => `${'AB'[one.row - 1]}${one.column}` === name);
    if (found === undefined) throw new Error(`no slot ${name}`);
    return found.id;
  };
  const kind = async (code: string) => (await db.kind.findUniqueOrThrow({ where: { code } })).id;
  const lot = async (input: Partial<NewLot> = {}) => {
    const kindId = input.kindId ?? (await kind('goniastrea-retiformis'));
    return bench.change((work) => addLot(work, { ...plainLot, siteId: site.id, ...input, kindId }));
  };
  return { siteId: site.id, systemId: system.id, rackId: rack.id, slot, kind, lot };
}

const plainLot: Omit<NewLot, 'siteId' | 'kindId'> = {
  pieces: 5,
  arrivedAt: new Date('2026-11-01T09:00:00Z'),
  origin: 'Grown here',
  permit: '',
  sizeMm: 30,
  isMother: false,
  note: '',
  identification: null,
  slotIds: [],
};
