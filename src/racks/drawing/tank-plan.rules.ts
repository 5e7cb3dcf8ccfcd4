import { USUAL_SLOT_MM } from '../../farm/racks/slots.rules.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { fitted } from './text-fit.rules.ts';

/** A rack as seen from above; mm. */
export interface RackAbove {
  id: string;
  name: string;
  rows: number;
  columns: number;
  depthMm: number;
  leftMm: number | null;
  backMm: number | null;
  slotWidthMm: number | null;
  slotDepthMm: number | null;
  lampName: string | null;
}

export interface PumpAbove {
  name: string;
  leftMm: number | null;
  backMm: number | null;
  /** 0 to the right, 90 to the front. */
  facingDeg: number | null;
}

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

export interface DrawnRack extends Box {
  id: string;
  said: string;
  lines: { text: string; x: number; y: number }[];
}

/** A tank from above with everything placed; `scaled` false where nobody entered where the racks are. */
export interface Above {
  scaled: boolean;
  width: number;
  height: number;
  tank: Box;
  racks: DrawnRack[];
  /** Around the racks that lamps light. */
  lamps: (Box & { name: string })[];
  pumps: { number: number; name: string; x: number; y: number; facingDeg: number | null }[];
  /** Racks and pumps that could not be placed, by name. */
  unplaced: string[];
}

const WIDTH = 760;
const MARGIN = 14;
const LINE = 17;
const SIZE = 13;
const PAD = 7;
const TALLEST = 560;
const SIDE_HEIGHT = 150;
const GAP = 10;

/** Numbers of the pumps: in the order of their names, as the table beneath has them. */
export function viewAbove(
  tank: { lengthMm: number; widthMm: number },
  racks: readonly RackAbove[],
  pumps: readonly PumpAbove[],
): Above {
  const placed = racks.filter((rack) => rack.leftMm !== null && rack.backMm !== null);
  const scaled = placed.length > 0;
  const scale = Math.min((WIDTH - 2 * MARGIN) / tank.lengthMm, TALLEST / tank.widthMm);
  const room: Box = {
    x: MARGIN,
    y: MARGIN,
    width: scaled ? tank.lengthMm * scale : WIDTH - 2 * MARGIN,
    height: scaled ? tank.widthMm * scale : SIDE_HEIGHT,
  };
  const boxes = scaled ? placed.map((rack) => boxOf(rack, scale)) : besideEachOther(racks.length, room);
  const drawn = scaled ? placed : racks;
  const known = pumps.map((pump, i) => ({ ...pump, number: i + 1 }));
  const shown = scaled ? known.filter((pump) => pump.leftMm !== null && pump.backMm !== null) : [];
  return {
    scaled,
    width: room.width + 2 * MARGIN,
    height: room.height + 2 * MARGIN,
    tank: room,
    racks: labelled(drawn, boxes),
    lamps: scaled ? lampsAround(drawn, boxes) : [],
    pumps: shown.map(({ number, name, leftMm, backMm, facingDeg }) => ({
      number,
      name,
      x: MARGIN + (leftMm ?? 0) * scale,
      y: MARGIN + (backMm ?? 0) * scale,
      facingDeg,
    })),
    unplaced: scaled
      ? [
          ...racks.filter((rack) => !placed.includes(rack)),
          ...known.filter((pump) => !shown.includes(pump)),
        ].map(({ name }) => name)
      : [],
  };
}

function boxOf(rack: RackAbove, scale: number): Box {
  return {
    x: MARGIN + (rack.leftMm ?? 0) * scale,
    y: MARGIN + (rack.backMm ?? 0) * scale,
    width: rack.columns * (rack.slotWidthMm ?? USUAL_SLOT_MM) * scale,
    height: rack.rows * (rack.slotDepthMm ?? USUAL_SLOT_MM) * scale,
  };
}

function besideEachOther(count: number, room: Box): Box[] {
  const width = (room.width - GAP * (count + 1)) / count;
  const y = room.y + GAP;
  const height = room.height - 2 * GAP;
  return Array.from({ length: count }, (_, i) => ({
    x: room.x + GAP + i * (width + GAP),
    y,
    width,
    height,
  }));
}

const meets = (a: Box, b: Box) =>
  a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;

/** Deepest first, so that a rack above another is drawn over it; labels give way to those that are there. */
function labelled(racks: readonly RackAbove[], boxes: readonly Box[]): DrawnRack[] {
  const order = racks.map((rack, i) => ({ rack, box: boxes[i] as Box }));
  order.sort((a, b) => b.rack.depthMm - a.rack.depthMm);
  const taken: Box[] = [];
  return order.map(({ rack, box }) => {
    const depth = `${numberWords(rack.depthMm / 10)} cm deep`;
    const words = [rack.name, depth, ...(rack.lampName === null ? [] : [rack.lampName])];
    const room = Math.max(0, box.width - 2 * PAD);
    const label = { x: box.x, y: box.y, width: box.width, height: words.length * LINE + PAD };
    while (taken.some((one) => meets(one, label))) label.y += LINE;
    taken.push(label);
    const lines = words.map((text, i) => ({
      text: fitted(text, room, SIZE),
      x: box.x + PAD,
      y: label.y + PAD + (i + 0.75) * LINE,
    }));
    const inside = lines.filter(({ text, y }) => text !== '' && y < box.y + box.height - 2);
    const said = `${rack.name}: ${depth}, ${rack.rows} rows of ${rack.columns}${rack.lampName === null ? '' : `, under ${rack.lampName}`}`;
    return { ...box, id: rack.id, said, lines: inside };
  });
}

function lampsAround(racks: readonly RackAbove[], boxes: readonly Box[]): (Box & { name: string })[] {
  const lit = racks.flatMap(({ lampName }, i) =>
    lampName === null ? [] : [{ lampName, box: boxes[i] as Box }],
  );
  return [...Map.groupBy(lit, (one) => one.lampName)].map(([name, group]) => {
    const [left, top] = [
      Math.min(...group.map(({ box }) => box.x)),
      Math.min(...group.map(({ box }) => box.y)),
    ];
    const right = Math.max(...group.map(({ box }) => box.x + box.width));
    const bottom = Math.max(...group.map(({ box }) => box.y + box.height));
    return { name, x: left - 4, y: top - 4, width: right - left + 8, height: bottom - top + 8 };
  });
}

/** Which way a pump blows, in words. */
export function facingWords(facingDeg: number | null): string {
  if (facingDeg === null) return 'not said';
  const eight = ['right', 'front right', 'front', 'front left', 'left', 'back left', 'back', 'back right'];
  return `to the ${eight[Math.round(facingDeg / 45) % 8]}`;
}
