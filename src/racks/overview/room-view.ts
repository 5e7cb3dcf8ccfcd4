import type { Service } from '../../platform/service.ts';
import { plural } from '../../platform/words/numbers.ts';
import { readyLots } from '../../stock/sales/ready.ts';
import { drawRackMiniature, type MiniatureCell } from '../drawing/miniature.ts';
import type { RackOverview } from './overview.rules.ts';
import { rackOverview } from './overview.ts';
import { type RoomView, roomCell } from './room.rules.ts';
import { layOutRoom, namesCut } from './room-plan.rules.ts';
import { drawRoomPlan } from './room-plan.ts';
import { type RoomAlert, type RoomTank, roomAlerts, roomTanks } from './room-tanks.ts';

/** Widest that a rack is drawn where its tank is no part of a plan, px. */
const RACK_ROOM = 168;
/** Widths of a plan, px: of a phone, of one of two columns, and of the page. */
const WIDTHS = { phone: 340, half: 480, full: 1000 };

/** A room, or a system whose tanks nobody placed, as a part of the drawing. */
interface Section {
  id: string;
  name: string;
  isRoom: boolean;
  tanks: RoomTank[];
}

/** Rooms with their tanks, then systems with the tanks that are in no room; in the order given. */
function sectionsOf(tanks: readonly RoomTank[]): Section[] {
  return [...Map.groupBy(tanks, (tank) => tank.roomId ?? tank.systemId)].map(([id, of]) => ({
    id,
    name: of[0]?.roomName ?? of[0]?.systemName ?? '',
    isRoom: of[0]?.roomId !== null,
    tanks: of,
  }));
}

export interface RoomQuestion {
  siteId: string;
  show: RoomView;
  /** Which sections, of how many a page. */
  page: number;
  perPage: number;
}

/** The farm as it is drawn: rooms as they are, then what nobody placed, in its order. Five queries at most. */
export async function roomView(service: Service, question: RoomQuestion) {
  const { siteId, show, page, perPage } = question;
  const [{ pool }, now] = [service, service.now()];
  const [tanks, alerts] = await Promise.all([
    roomTanks(pool, siteId),
    show === 'light' ? roomAlerts(pool, siteId, now) : [],
  ]);
  const all = sectionsOf(tanks);
  const sections = all.slice((page - 1) * perPage, page * perPage);
  const tankIds = sections.flatMap((section) => section.tanks.map(({ id }) => id));
  const [shown, lots] = await Promise.all([
    rackOverview(pool, siteId, now, tankIds),
    show === 'ready' ? readyLots(pool, siteId, now) : [],
  ]);
  const ready = new Set(lots.map(({ id }) => id));
  const drawn = shown.map((rack) => {
    const cells = rack.slots.map((slot) => roomCell(slot, show, ready));
    return drawnRack(rack, cells, show);
  });
  const byTank = Map.groupBy(drawn, ({ tankId }) => tankId);
  const told = new Set<string>();
  return {
    racks: shown,
    count: all.length,
    sections: sections.map((section) => ({
      ...drawSection(section, byTank),
      alerts: alertsOf(section, alerts, told),
    })),
  };
}

type DrawnRack = ReturnType<typeof drawnRack>;

function drawnRack(rack: RackOverview, cells: MiniatureCell[], show: RoomView) {
  const count = (dot: MiniatureCell['dot']) => cells.filter((cell) => cell.dot === dot).length;
  const figures = { light: '', free: `${count('free')} free`, ready: plural(count(''), 'slot', 'slots') };
  const marks = show === 'light' ? {} : { now: 0, today: 0 };
  const figure = figures[show];
  return { ...rack, ...marks, cells, figure, picture: drawRackMiniature(cells, rack, RACK_ROOM) };
}

/** A system's alerts are told once, in the first section that has a tank of it. */
function alertsOf({ tanks }: Section, alerts: readonly RoomAlert[], told: Set<string>): RoomAlert[] {
  const systems = new Set(tanks.map(({ systemId }) => systemId));
  const here = alerts.filter(({ id, systemId }) => systems.has(systemId) && !told.has(id));
  for (const { id } of here) told.add(id);
  return here;
}

/** A section with its plan for each width that has room for it; where none has, and where nobody placed its tanks, these in order. */
function drawSection({ id, name, isRoom, tanks }: Section, byTank: ReadonlyMap<string, DrawnRack[]>) {
  const listed = tanks.map((tank) => ({ ...tank, racks: byTank.get(tank.id) ?? [] }));
  const sum = (of: 'lots' | 'pieces') =>
    listed.flatMap(({ racks }) => racks).reduce((total, rack) => total + rack[of], 0);
  const placed = listed.flatMap((tank) =>
    tank.leftCm === null || tank.backCm === null
      ? []
      : [{ ...tank, leftCm: tank.leftCm, backCm: tank.backCm, racks: tank.racks.map(labelled) }],
  );
  const at = (width: number) => (placed.length === 0 ? null : layOutRoom(placed, width));
  const half = at(WIDTHS.half);
  const [desk, phone] = [half ?? at(WIDTHS.full), at(WIDTHS.phone)];
  const draw = (plan: typeof desk, className: string) =>
    plan === null ? null : drawRoomPlan(plan, { name, className });
  return {
    ...{ id, name, isRoom, tanks: listed, lots: sum('lots'), pieces: sum('pieces') },
    isWide: half === null && desk !== null,
    desk: draw(desk, 'not-phone'),
    phone: draw(phone, 'only-phone'),
    deskCut: desk === null ? '' : namesCut(desk).join('; '),
    phoneCut: phone === null ? '' : namesCut(phone).join('; '),
    // Which of the two widths gets the tanks in order instead of a plan.
    inOrder:
      desk === null ? (phone === null ? 'everywhere' : 'not-phone') : phone === null ? 'only-phone' : '',
  };
}

/** In the views of free slots and of what is ready the figure is part of a rack's name. */
const labelled = (rack: DrawnRack): DrawnRack => ({
  ...rack,
  name: rack.figure === '' ? rack.name : `${rack.name} ${rack.figure}`,
});
