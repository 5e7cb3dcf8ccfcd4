import { USUAL_SLOT_MM } from '../../farm/racks/slots.rules.ts';
import { lengthWords } from '../../platform/units/measures.ts';
import { fitText } from './text-fit.rules.ts';

/** What the plan of a tank needs of a rack; mm. */
export interface PlanRack {
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

export interface PlanPump {
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

export interface RackBox extends Box {
  id: string;
  /** For its tooltip and screen readers. */
  title: string;
  lines: { text: string; x: number; y: number }[];
}

/** A tank from above with everything placed, px; `scaled` is false where nobody entered where the racks are. */
export interface TankPlan {
  scaled: boolean;
  width: number;
  height: number;
  tank: Box;
  racks: RackBox[];
  /** A box around the racks that each set of lamps lights. */
  lamps: (Box & { name: string })[];
  pumps: { number: number; name: string; x: number; y: number; facingDeg: number | null }[];
  /** Racks and pumps that could not be placed, by name. */
  unplaced: string[];
}

// Measures of the plan, px.
/** How wide a tank is drawn: on a page, and on a phone. */
export const PLAN_WIDTHS = { wide: 760, narrow: 358 } as const;
const MARGIN = 14;
const LINE = 17;
const TEXT_SIZE = 13;
const PAD = 7;
const TALLEST = 560;
const SIDE_HEIGHT = 150;
const GAP = 10;

/**
 * Lays out a tank from above: to scale where the place of a rack is known, else the racks side by side. Pumps are
 * numbered in the order given, as the table beneath the plan lists them.
 */
export function layOutTank(
  tank: { lengthMm: number; widthMm: number },
  racks: readonly PlanRack[],
  pumps: readonly PlanPump[],
  across: number = PLAN_WIDTHS.wide,
): TankPlan {
  const placed = racks.filter((rack) => rack.leftMm !== null && rack.backMm !== null);
  const scaled = placed.length > 0;
  const scale = Math.min((across - 2 * MARGIN) / tank.lengthMm, TALLEST / tank.widthMm);
  const tankBox: Box = {
    x: MARGIN,
    y: MARGIN,
    width: scaled ? tank.lengthMm * scale : across - 2 * MARGIN,
    height: scaled ? tank.widthMm * scale : SIDE_HEIGHT,
  };
  const boxes = scaled ? placed.map((rack) => boxOf(rack, scale)) : sideBySide(racks.length, tankBox);
  const shownRacks = scaled ? placed : racks;
  const numbered = pumps.map((pump, i) => ({ ...pump, number: i + 1 }));
  const shown = scaled ? numbered.filter((pump) => pump.leftMm !== null && pump.backMm !== null) : [];
  return {
    scaled,
    width: tankBox.width + 2 * MARGIN,
    height: tankBox.height + 2 * MARGIN,
    tank: tankBox,
    racks: labelRacks(shownRacks, boxes),
    lamps: scaled ? lampAreas(shownRacks, boxes) : [],
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
          ...numbered.filter((pump) => !shown.includes(pump)),
        ].map(({ name }) => name)
      : [],
  };
}

function boxOf(rack: PlanRack, scale: number): Box {
  return {
    x: MARGIN + (rack.leftMm ?? 0) * scale,
    y: MARGIN + (rack.backMm ?? 0) * scale,
    width: rack.columns * (rack.slotWidthMm ?? USUAL_SLOT_MM) * scale,
    height: rack.rows * (rack.slotDepthMm ?? USUAL_SLOT_MM) * scale,
  };
}

function sideBySide(count: number, room: Box): Box[] {
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

const overlaps = (a: Box, b: Box) =>
  a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;

/** Deepest first, so that a higher rack is drawn over a lower one; a label moves down until it covers no other. */
function labelRacks(racks: readonly PlanRack[], boxes: readonly Box[]): RackBox[] {
  const order = racks.map((rack, i) => ({ rack, box: boxes[i] as Box }));
  order.sort((a, b) => b.rack.depthMm - a.rack.depthMm);
  const taken: Box[] = [];
  return order.map(({ rack, box }) => {
    const depth = `${lengthWords(rack.depthMm)} deep`;
    const words = [rack.name, depth, ...(rack.lampName === null ? [] : [rack.lampName])];
    const room = Math.max(0, box.width - 2 * PAD);
    const label = { x: box.x, y: box.y, width: box.width, height: words.length * LINE + PAD };
    while (taken.some((one) => overlaps(one, label))) label.y += LINE;
    taken.push(label);
    const lines = words.map((text, i) => ({
      text: fitText(text, room, TEXT_SIZE),
      x: box.x + PAD,
      y: label.y + PAD + (i + 0.75) * LINE,
    }));
    const inside = lines.filter(({ text, y }) => text !== '' && y < box.y + box.height - 2);
    const title = `${rack.name}: ${depth}, ${rack.rows} rows of ${rack.columns}${rack.lampName === null ? '' : `, under ${rack.lampName}`}`;
    return { ...box, id: rack.id, title, lines: inside };
  });
}

function lampAreas(racks: readonly PlanRack[], boxes: readonly Box[]): (Box & { name: string })[] {
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

/** The direction a pump blows in, in words. */
export function facingWords(facingDeg: number | null): string {
  if (facingDeg === null) return 'not said';
  const directions = [
    'right',
    'front right',
    'front',
    'front left',
    'left',
    'back left',
    'back',
    'back right',
  ];
  return `to the ${directions[Math.round(facingDeg / 45) % 8]}`;
}
