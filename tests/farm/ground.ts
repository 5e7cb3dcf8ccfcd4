import { uuidv7 } from 'uuidv7';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { makeCode } from '../../src/stock/base/codes.ts';
import type { Bench } from '../support/service.ts';
import { newSite } from '../support/site.ts';

/** A site with one system, one tank, lamps over it (10 h lit, ramps of 2 h) and a rack; slots by name ("A1"). */
export interface Ground {
  siteId: string;
  systemId: string;
  tankId: string;
  lampId: string;
  rackId: string;
  slots: Record<string, string>;
}

interface Shape {
  name?: string;
  rows?: number;
  columns?: number;
}

/** Adds a rack with its slots under the same lamps. */
export async function layRack(
  { service: { db } }: Bench,
  under: { tankId: string; lampId: string | null },
  { name = 'Window rack', rows = 2, columns = 3 }: Shape = {},
): Promise<{ rackId: string; slots: Record<string, string> }> {
  const rack = await db.rack.create({ data: { ...under, name, rows, columns, depthMm: 300 } });
  const cells = Array.from({ length: rows * columns }, (_, i) => ({
    id: uuidv7(),
    rackId: rack.id,
    row: Math.floor(i / columns) + 1,
    column: (i % columns) + 1,
  }));
  await db.slot.createMany({ data: cells });
  const slots = cells.map(({ id, row, column }) => [`${String.fromCharCode(64 + row)}${column}`, id]);
  return { rackId: rack.id, slots: Object.fromEntries(slots) };
}

export async function layGround(bench: Bench, shape: Shape = {}): Promise<Ground> {
  const { db } = bench.service;
  const site = await newSite(db, `Saltgate ${uuidv7()}`);
  const system = await db.system.create({ data: { siteId: site.id, name: 'Shallow', volumeL: 1800 } });
  const size = { lengthMm: 2000, widthMm: 800, heightMm: 400 };
  const tank = await db.tank.create({ data: { systemId: system.id, name: 'Tank 1', ...size } });
  const lamp = await db.lamp.create({
    data: { tankId: tank.id, name: 'Bars', litHours: 10, rampHours: 2 },
  });
  const rack = await layRack(bench, { tankId: tank.id, lampId: lamp.id }, shape);
  return { siteId: site.id, systemId: system.id, tankId: tank.id, lampId: lamp.id, ...rack };
}

/** A survey that found the same light, or light by slot name, at every slot of a rack. */
export async function survey(
  { service: { db } }: Bench,
  ground: { rackId: string; slots: Record<string, string> },
  at: string,
  lampPercent: number | null,
  par: number | Record<string, number>,
): Promise<string> {
  const found =
    typeof par === 'number' ? Object.fromEntries(Object.keys(ground.slots).map((n) => [n, par])) : par;
  const light = Object.entries(found).map(([name, value]) => ({
    slotId: ground.slots[name] as string,
    par: value,
    error: value / 10,
    measured: true,
  }));
  const head = {
    rackId: ground.rackId,
    measuredAt: new Date(at),
    meter: 'stick',
    immersionFactor: 1,
    lampPercent,
  };
  const { id } = await db.lightSurvey.create({ data: { ...head, light: { create: light } } });
  return id;
}

/** Lamps turned; hours as the lamp has them unless told. */
export async function turn(
  { service: { db } }: Bench,
  lampId: string,
  at: string,
  percent: number,
  hours?: { litHours: number; rampHours: number },
): Promise<void> {
  await db.lampSetting.create({ data: { lampId, at: new Date(at), percent, ...hours } });
}

let codes = 0;

/** A lot of one piece, standing nowhere. */
export async function lot(
  { service: { db } }: Bench,
  siteId: string,
  code = makeCode(seededRandom(++codes)),
): Promise<string> {
  const kind = await db.kind.findFirstOrThrow({ orderBy: { code: 'asc' } });
  const arrivedAt = new Date('2026-01-01T00:00:00Z');
  const { id } = await db.lot.create({ data: { code, siteId, kindId: kind.id, arrivedAt } });
  await db.ledgerEntry.create({ data: { lotId: id, at: arrivedAt, change: 1, reason: 'received' } });
  return id;
}

/** Puts a lot into slots from when to when. */
export async function place(
  { service: { db } }: Bench,
  lotId: string,
  slotIds: (string | undefined)[],
  from: string,
  to: string | null = null,
): Promise<void> {
  const slots = { create: slotIds.map((slotId) => ({ slotId: slotId as string })) };
  await db.placement.create({
    data: { lotId, fromAt: new Date(from), toAt: to === null ? null : new Date(to), slots },
  });
}
