import type { Room } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { footprint, freeSpots } from './floor.rules.ts';
import type { PlaceInput, RoomEdit } from './rooms.schema.ts';

const inOrder = [{ position: 'asc' } as const, { name: 'asc' } as const];

/** A site's rooms in their order, with how many tanks are in each. */
export function listRooms(db: Reader, siteId: string) {
  return db.room.findMany({
    where: { siteId },
    orderBy: inOrder,
    include: { _count: { select: { tanks: true } } },
  });
}

/** @throws Refusal 404 */
export async function findRoom(db: Reader, id: string): Promise<Room> {
  const room = await db.room.findUnique({ where: { id } });
  if (room === null) throw notFound('This room');
  return room;
}

/** The tanks that a room's form is about: those in it, then those of the site that are in no room and in service. */
export async function tanksFor(db: Reader, room: { id: string; siteId: string }) {
  const tanks = await db.tank.findMany({
    where: {
      system: { siteId: room.siteId },
      OR: [{ place: { roomId: room.id } }, { place: null, system: { retiredAt: null } }],
    },
    orderBy: [{ system: { position: 'asc' } }, { system: { name: 'asc' } }, ...inOrder],
    include: { place: true, system: { select: { name: true } } },
  });
  return [...tanks.filter(({ place }) => place !== null), ...tanks.filter(({ place }) => place === null)];
}

export type RoomTank = Awaited<ReturnType<typeof tanksFor>>[number];

export async function addRoom(work: Work, siteId: string, name: string): Promise<{ id: string }> {
  const position = await work.tx.room.count({ where: { siteId } });
  const { id } = await work.tx.room.create({ data: { siteId, name, position } });
  work.record('room.created', { type: 'room', id }, { name });
  return { id };
}

/**
 * Names a room and says where its tanks are; those left empty are in no room.
 * @throws Refusal 404, 409 on a stale edit
 */
export async function editRoom(work: Work, id: string, { version, ...edit }: RoomEdit): Promise<void> {
  const { tx } = work;
  const room = await findRoom(tx, id);
  const data = { name: edit.name, version: { increment: 1 } };
  const changed = await tx.room.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this room');
  const tanks = await tanksFor(tx, room);
  const places = edit.placeRest ? withRest(edit.places, tanks) : edit.places;
  const rows = places.flatMap(({ tankId, at, turned }) =>
    at === null || !tanks.some((tank) => tank.id === tankId) ? [] : [{ tankId, roomId: id, ...at, turned }],
  );
  await tx.tankPlace.deleteMany({ where: { roomId: id } });
  await tx.tankPlace.createMany({ data: rows });
  const nameOf = (tankId: string) => tanks.find((tank) => tank.id === tankId)?.name ?? tankId;
  const before = tanks.flatMap(({ place, name }) => (place === null ? [] : [placeWords(name, place)]));
  const after = rows.map((row) => placeWords(nameOf(row.tankId), row));
  work.record(
    'room.changed',
    { type: 'room', id },
    { before: { name: room.name, tanks: before }, after: { name: edit.name, tanks: after } },
  );
}

/** Gives tanks that stand nowhere the spots in which the room's page draws them. */
function withRest(places: readonly PlaceInput[], tanks: readonly RoomTank[]): PlaceInput[] {
  const byId = new Map(places.map((place) => [place.tankId, place]));
  const boxes = tanks.flatMap((tank) => {
    const place = byId.get(tank.id);
    return place?.at ? [{ ...place.at, ...footprint(tank, place.turned) }] : [];
  });
  const rest = tanks.filter((tank) => !byId.get(tank.id)?.at);
  const spots = freeSpots(boxes, rest);
  const given = new Map(rest.map((tank, i) => [tank.id, spots[i]]));
  return tanks.map((tank) => {
    const place = byId.get(tank.id);
    const spot = given.get(tank.id);
    return spot === undefined
      ? { tankId: tank.id, at: place?.at ?? null, turned: place?.turned ?? false }
      : { tankId: tank.id, at: { leftCm: spot.leftCm, backCm: spot.backCm }, turned: false };
  });
}

/** "Raceway 1: 0 cm from the left, 120 cm from the back, turned" */
const placeWords = (
  name: string,
  { leftCm, backCm, turned }: { leftCm: number; backCm: number; turned: boolean },
) => `${name}: ${leftCm} cm from the left, ${backCm} cm from the back${turned ? ', turned' : ''}`;
