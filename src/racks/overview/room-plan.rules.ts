import { USUAL_SLOT_MM } from '../../farm/racks/slots.rules.ts';
import { footprint } from '../../farm/rooms/floor.rules.ts';
import { fitText, textWidth } from '../drawing/text-fit.rules.ts';

/** A tank as the plan of a room draws it, with the racks in it. */
export interface PlanTank<R extends PlanRack> {
  id: string;
  name: string;
  lengthMm: number;
  widthMm: number;
  leftCm: number;
  backCm: number;
  turned: boolean;
  racks: readonly R[];
}

export interface PlanRack {
  id: string;
  name: string;
  rows: number;
  columns: number;
  /** From the left and from the back of its tank, mm; null where nobody entered it. */
  leftMm: number | null;
  backMm: number | null;
  slotWidthMm: number | null;
  slotDepthMm: number | null;
  now: number;
  today: number;
}

/** px */
interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

interface TextAt {
  text: string;
  x: number;
  y: number;
}

export interface RackAt<R> extends Box {
  rack: R;
  /** Side of a slot. */
  side: number;
  name: TextAt | null;
  /** The mark after the name, with as much of its words as has room. */
  mark: (TextAt & { severity: 'now' | 'today' }) | null;
}

export interface TankAt<R> extends Box {
  id: string;
  title: string;
  turned: boolean;
  name: TextAt | null;
  racks: RackAt<R>[];
}

export interface RoomPlan<R> {
  width: number;
  height: number;
  tanks: TankAt<R>[];
}

/** The names of a plan that have no room to be written whole, of tanks and racks, as they are. */
export function namesCut(plan: RoomPlan<PlanRack>): string[] {
  return plan.tanks.flatMap(({ title, name, racks }) => [
    ...(name === null || name.text === title ? [] : [title]),
    ...racks.flatMap(({ rack, name: drawn }) => (drawn?.text === rack.name ? [] : [rack.name])),
  ]);
}

// Measures of the plan, px.
/** A finger or a pointer finds a box of this side (WCAG 2.2, 2.5.8 Target Size). */
const TARGET = 24;
const EDGE = 1;
const PAD = 7;
const LINE = 17;
export const NAME_SIZE = 13;
/** Nothing is drawn larger than this for a centimetre: one small tank does not fill the page. */
const LARGEST = 3;
/** An aisle is drawn no wider than this, cm: what is to be seen is in the tanks. */
const AISLE_CM = 12;
/** One more line of racks must make their slots larger by this. */
const WORTH_A_LINE = 1.35;
/** Racks lie in at most so many lines in a tank. */
const MOST_LINES = 4;
/** Side of the mark of an alert, and its distance from what is beside it. */
export const MARK = 10;
const GAP = 5;

/**
 * Lays out the tanks of a room in a drawing of a width: tanks to scale, aisles narrow, no empty floor around them.
 * @returns null where a tank would be too small to be read and hit
 */
export function layOutRoom<R extends PlanRack>(
  tanks: readonly PlanTank<R>[],
  width: number,
): RoomPlan<R> | null {
  const boxes = tanks.map((tank) => ({ tank, ...tank, ...footprint(tank, tank.turned) }));
  const across = narrowed(boxes.map(({ leftCm, widthCm }) => ({ from: leftCm, to: leftCm + widthCm })));
  const deep = narrowed(boxes.map(({ backCm, depthCm }) => ({ from: backCm, to: backCm + depthCm })));
  const scale = Math.min(LARGEST, (width - 2 * EDGE) / across.length);
  const drawn = boxes.map(({ tank, leftCm, backCm, widthCm, depthCm }) =>
    layOutTank(tank, {
      x: EDGE + across.at(leftCm) * scale,
      y: EDGE + deep.at(backCm) * scale,
      width: widthCm * scale,
      height: depthCm * scale,
    }),
  );
  if (drawn.some((tank) => tank === null)) return null;
  return {
    width: across.length * scale + 2 * EDGE,
    height: deep.length * scale + 2 * EDGE,
    tanks: drawn.filter((tank) => tank !== null),
  };
}

/** One direction of a room without what is free before its first tank, and with its aisles no wider than `AISLE_CM`. */
function narrowed(spans: readonly { from: number; to: number }[]): {
  length: number;
  at: (cm: number) => number;
} {
  const sorted = [...spans].sort((a, b) => a.from - b.from);
  const start = sorted[0]?.from ?? 0;
  let end = start;
  const cuts: { after: number; by: number }[] = [{ after: start, by: start }];
  for (const { from, to } of sorted) {
    if (from - end > AISLE_CM) cuts.push({ after: from, by: from - end - AISLE_CM });
    end = Math.max(end, to);
  }
  const at = (cm: number) => cuts.reduce((left, { after, by }) => (cm >= after ? left - by : left), cm);
  return { length: at(end), at };
}

/** A tank with its name and its racks in a box; null where that has no room for them. */
function layOutTank<R extends PlanRack>(tank: PlanTank<R>, box: Box): TankAt<R> | null {
  const { id, name, turned } = tank;
  const room = box.width - 2 * PAD;
  const line = { x: box.x + PAD, y: box.y + LINE };
  const text = box.height < LINE + PAD ? '' : fitText(name, room, NAME_SIZE, 'regular');
  const at = { ...box, id, title: name, turned };
  if (Math.min(box.width, box.height) < TARGET) return null;
  const within = (top: number): Box => ({
    x: box.x + PAD,
    y: box.y + top,
    width: room,
    height: box.height - top - PAD,
  });
  // The name of the tank gives way before the racks do.
  const placed = layOutRacks(tank, within(LINE + GAP));
  if (placed !== null) return { ...at, name: text === '' ? null : { text, ...line }, racks: placed };
  const tight = layOutRacks(tank, within(GAP));
  return tight === null ? null : { ...at, name: null, racks: tight };
}

/** The racks of a tank: at their places where all are known, else beside each other; null where one would be too small to hit. */
function layOutRacks<R extends PlanRack>(tank: PlanTank<R>, room: Box): RackAt<R>[] | null {
  const { racks, turned } = tank;
  if (racks.length === 0) return [];
  return whole(racksAtPlaces(tank, room)) ?? whole(racksInLines(racks, room, turned));
}

/** All of them, or null where one is missing or too small to be read and hit. */
function whole<R>(racks: readonly (RackAt<R> | null)[]): RackAt<R>[] | null {
  const isLarge = ({ width, height }: Box) => width >= TARGET && height + LINE >= TARGET && height >= 10;
  const large = racks.filter((rack) => rack !== null && isLarge(rack)) as RackAt<R>[];
  return large.length === racks.length ? large : null;
}

const covers = (a: Box, b: Box) =>
  a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;

/**
 * Racks where they lie in their tank, as much to scale as its box and their names let them be. A name stands over its
 * rack, or on the rack's own ground where another is behind it; null for a rack without a place, and for one above another.
 */
function racksAtPlaces<R extends PlanRack>(tank: PlanTank<R>, room: Box): (RackAt<R> | null)[] {
  const grounds = tank.racks.map((rack) => groundOf(rack, tank, room));
  const grids = grounds.flatMap((ground) => (ground === null ? [] : [ground]));
  const names: Box[] = [];
  return tank.racks.map((rack, i) => {
    const ground = grounds[i] ?? null;
    if (ground === null || grids.some((other) => other !== ground && covers(other, ground))) return null;
    const over = { ...ground, y: ground.y - LINE, height: LINE };
    const free = ![...grids, ...names].some((other) => covers(other, over));
    names.push(over);
    const grid = free ? ground : { ...ground, y: ground.y + LINE, height: ground.height - LINE };
    return rackIn(rack, grid, ground.width, tank.turned);
  });
}

/** What a rack takes of its tank in the drawing, the strip for names at the tank's back left out; null where nobody placed it. */
function groundOf(rack: PlanRack, tank: PlanTank<PlanRack>, room: Box): Box | null {
  const { leftMm, backMm } = rack;
  if (leftMm === null || backMm === null) return null;
  const width = rack.columns * (rack.slotWidthMm ?? USUAL_SLOT_MM);
  const depth = rack.rows * (rack.slotDepthMm ?? USUAL_SLOT_MM);
  // A tank that is turned clockwise has its back at the right.
  const [x, y, wide, deep, ofX, ofY] = tank.turned
    ? [tank.widthMm - backMm - depth, leftMm, depth, width, tank.widthMm, tank.lengthMm]
    : [leftMm, backMm, width, depth, tank.lengthMm, tank.widthMm];
  if (x < 0 || x + wide > ofX || y + deep > ofY) return null;
  const [across, down] = [room.width / ofX, (room.height - LINE) / ofY];
  return { x: room.x + x * across, y: room.y + LINE + y * down, width: wide * across, height: deep * down };
}

/** A rack with square slots in a box, at its back left. */
function rackIn<R extends PlanRack>(rack: R, box: Box, nameRoom: number, turned: boolean): RackAt<R> {
  const [wide, deep] = sidesOf(rack, turned);
  const side = Math.min(box.width / wide, box.height / deep);
  const grid = { x: box.x, y: box.y, width: wide * side, height: deep * side };
  return { rack, side, ...grid, ...labelOf(rack, { x: box.x, y: box.y - GAP, room: nameRoom - GAP }) };
}

const sidesOf = ({ rows, columns }: PlanRack, turned: boolean): [wide: number, deep: number] =>
  turned ? [rows, columns] : [columns, rows];

/** Racks beside each other in as many lines as let their slots be largest. */
function racksInLines<R extends PlanRack>(racks: readonly R[], room: Box, turned: boolean): RackAt<R>[] {
  const choices = Array.from({ length: Math.min(MOST_LINES, racks.length) }, (_, i) => {
    const across = Math.ceil(racks.length / (i + 1));
    const cell = { width: room.width / across, height: room.height / Math.ceil(racks.length / across) };
    const side = Math.min(
      ...racks.map((rack) => {
        const [wide, deep] = sidesOf(rack, turned);
        return Math.min((cell.width - GAP) / wide, (cell.height - LINE) / deep);
      }),
    );
    return { across, cell, side };
  });
  const best = choices.reduce((one, other) => (other.side > one.side * WORTH_A_LINE ? other : one));
  return racks.map((rack, i): RackAt<R> => {
    const [wide, deep] = sidesOf(rack, turned);
    const x = room.x + (i % best.across) * best.cell.width;
    const y = room.y + Math.floor(i / best.across) * best.cell.height;
    const spare = Math.max(0, best.cell.height - LINE - deep * best.side);
    const box = { x, y: y + LINE + spare / 3, width: wide * best.side, height: deep * best.side };
    return rackIn(rack, box, best.cell.width, turned);
  });
}

/** The name of a rack over its grid and the mark of its lots' alerts with its words; the mark is never left out. */
function labelOf(rack: PlanRack, { x, y, room }: { x: number; y: number; room: number }) {
  const severity = rack.now > 0 ? ('now' as const) : rack.today > 0 ? ('today' as const) : null;
  const words = severity === null ? [] : [`${rack[severity]} ${severity}`, `${rack[severity]}`, ''];
  const markRoom = severity === null ? 0 : MARK + GAP;
  const width = (text: string) => textWidth(text, NAME_SIZE);
  const said = words.find((text) => width(rack.name) + markRoom + GAP + width(text) <= room) ?? '';
  const text = fitText(rack.name, room - markRoom - (said === '' ? 0 : width(said) + GAP), NAME_SIZE);
  const name = text === '' ? null : { text, x, y };
  const after = x + (name === null ? 0 : width(text) + GAP);
  return { name, mark: severity === null ? null : { severity, text: said, x: after, y } };
}
