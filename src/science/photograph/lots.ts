import { type BaseColours, labsOf, learnBase } from './base.ts';
import { type CardBox, cardBoxes, type Point } from './card.ts';
import { ciede2000, type Lab } from './colour.ts';
import { curvedLight, type Evened, type LightSample } from './evenness.ts';
import { type CameraPlace, type HeightShare, type PlanarArea, planarArea } from './height.ts';
import { medianOf } from './image.ts';
import { borderOf, simplified } from './outline.ts';
import type { Plane } from './plane.ts';
import { fillHoles, inner, type Mask, type Region, regionsOf, smoothed } from './regions.ts';

/** The rack that a photograph should show, with the lots that stood on it then. Rows count from the back, from 0. */
export interface RackToRead {
  id: string;
  rows: number;
  columns: number;
  lots: readonly LotToRead[];
}

export interface LotToRead {
  id: string;
  slots: readonly { row: number; column: number }[];
  /** How high its kind grows. */
  height: HeightShare;
}

/** What a photograph tells of one lot. */
export interface LotFace {
  id: string;
  /** The part of the rack that shows it, mm. */
  box: CardBox;
  /** Its colour and size; why there is none otherwise. */
  measured: Measured | { why: LeftOut };
}

/** Why a lot is not measured. */
export type LeftOut = 'glare' | 'not told from the base' | 'beyond the picture';

export interface Measured {
  /** L*a*b* against the white of the cards, and the standard uncertainty of L*. */
  whiteness: { L: number; a: number; b: number; uncertainty: number };
  /** What it covers, mm2, height taken out as far as the camera's place is known. */
  area: PlanarArea;
  /** mm on the rack. */
  outlines: Point[][];
  /** Lots whose outline it touches. */
  touches: string[];
}

/** All that is needed to read the lots of a straightened rack. */
export interface StraightRack {
  even: Evened;
  clipped: Uint8Array;
  box: CardBox;
  pxPerMm: number;
  plane: Plane;
  rack: RackToRead;
  camera: CameraPlace | null;
}

/** Own choices: the least area of a part of a coral, mm2; the largest hole that counts as its own, mm2. */
const [LEAST_PART, LARGEST_HOLE] = [20, 8];
/** Where more of a lot than this is clipped, its colour is not known. */
const MOST_CLIPPED = 0.03;

/** Tells each lot from the base, and measures it. */
export function readLots(straight: StraightRack): LotFace[] {
  const cells = cellsOf(straight);
  const places = basePlaces(straight, cells);
  const spread = takeOutCurve(straight, cells, places);
  const labs = labsOf(straight.even.reflectance);
  const base = learnBase(labs, places.px, places.least);
  const mask = coralMask(straight, labs, base);
  const parts = partsOfLots(straight, cells, mask);
  return straight.rack.lots.map((lot) => {
    const own = parts.get(lot.id) ?? { px: [], touches: [], touchesEdge: false };
    return {
      id: lot.id,
      box: boxOf(straight, cells, lot, own.px),
      measured: measure(straight, labs, { lot, own, spread }),
    };
  });
}

/** To which slot each px belongs: row x columns + column; -1 beyond the rack. */
interface Cells {
  of: Int32Array;
  /** The lot in each slot; null where it is empty. */
  lots: (string | null)[];
}

function cellsOf({ even, box, pxPerMm, plane, rack }: StraightRack): Cells {
  const of = new Int32Array(even.width * even.height).fill(-1);
  const [high, wide] = [plane.depth / rack.rows, plane.width / rack.columns];
  for (let y = 0; y < even.height; y++) {
    const row = Math.floor((box.y + (y + 0.5) / pxPerMm) / high);
    if (row < 0 || row >= rack.rows) continue;
    for (let x = 0; x < even.width; x++) {
      const column = Math.floor((box.x + (x + 0.5) / pxPerMm) / wide);
      if (column >= 0 && column < rack.columns) of[y * even.width + x] = row * rack.columns + column;
    }
  }
  const lots: (string | null)[] = Array.from({ length: rack.rows * rack.columns }, () => null);
  for (const { id, slots } of rack.lots)
    for (const { row, column } of slots) lots[row * rack.columns + column] = id;
  return { of, lots };
}

/** Places that show base alone: the empty slots; where there are too few, the margins and the seams between slots. */
function basePlaces(straight: StraightRack, { of, lots }: Cells): { px: number[][]; least: number } {
  const { even, rack, box, pxPerMm, plane } = straight;
  const empty = new Map<number, number[]>();
  const seams = new Map<number, number[]>();
  const [high, wide] = [plane.depth / rack.rows, plane.width / rack.columns];
  for (const [i, cell] of of.entries()) {
    if (cell < 0) continue;
    const x = box.x + ((i % even.width) + 0.5) / pxPerMm;
    const y = box.y + (Math.floor(i / even.width) + 0.5) / pxPerMm;
    const [right, down] = [(x / wide) % 1, (y / high) % 1];
    const side = Math.min(Math.min(right, 1 - right) * wide, Math.min(down, 1 - down) * high);
    const into = lots[cell] === null ? empty : side < 1.5 ? seams : null;
    if (into === null) continue;
    const list = into.get(cell);
    if (list === undefined) into.set(cell, [i]);
    else list.push(i);
  }
  if (empty.size >= 3) return { px: [...empty.values()], least: 2 };
  const all = [...empty.values(), ...seams.values()];
  return { px: all, least: Math.max(2, Math.round(all.length / 5)) };
}

/**
 * Takes out of the colours what the cards cannot know of the light between them, by the base of all slots.
 * @returns how uneven the base is still, as a share of its brightness
 */
function takeOutCurve(
  straight: StraightRack,
  { of }: Cells,
  places: { px: number[][]; least: number },
): number {
  const { even, box, pxPerMm, plane } = straight;
  const labs = labsOf(even.reflectance);
  const base = learnBase(labs, places.px, places.least);
  const at = (i: number) => ({
    u: (2 * (box.x + (i % even.width) / pxPerMm)) / plane.width - 1,
    v: (2 * (box.y + Math.floor(i / even.width) / pxPerMm)) / plane.depth - 1,
  });
  const bright = brightBase(labs, places.px.flat());
  const slots = new Map<number, number[]>();
  for (const [i, cell] of of.entries()) {
    if (cell < 0 || (labs[3 * i] as number) < bright || !base.has(labs, i)) continue;
    const list = slots.get(cell);
    if (list === undefined) slots.set(cell, [i]);
    else list.push(i);
  }
  const samples: LightSample[] = [...slots.values()]
    .filter((px) => px.length >= 40)
    .map((px) => ({ ...at(px[px.length >> 1] as number), share: middleLight(even.reflectance, px) }));
  const cards = cardBoxes(plane).map(({ x, y, width, height }) => ({
    u: (2 * (x + width / 2)) / plane.width - 1,
    v: (2 * (y + height / 2)) / plane.depth - 1,
  }));
  const curve = curvedLight(samples, cards);
  if (Number.isNaN(curve.spread)) return UNKNOWN_SPREAD;
  for (let y = 0; y < even.height; y += BLOCK)
    for (let x = 0; x < even.width; x += BLOCK) {
      const { u, v } = at((y + BLOCK / 2) * even.width + x + BLOCK / 2);
      const factors = curve.at(u, v).map((value) => Math.exp(-value));
      for (let row = y; row < Math.min(even.height, y + BLOCK); row++)
        for (let column = x; column < Math.min(even.width, x + BLOCK); column++)
          for (let k = 0; k < 3; k++) {
            const i = 3 * (row * even.width + column) + k;
            even.reflectance[i] = (even.reflectance[i] as number) * (factors[k] as number);
          }
    }
  return curve.spread;
}

/** The light changes so little over so many px that one value does. */
const BLOCK = 8;
/** How uneven the light may be where no base tells, as a share (own choice). */
const UNKNOWN_SPREAD = 0.08;

/** From which lightness on base is its bright part: a grid is bright lines and dark holes (Otsu 1979); 0 where it is of one kind. */
function brightBase(labs: Float32Array, px: readonly number[]): number {
  const counts = new Float64Array(128);
  for (const i of px) {
    const step = Math.min(127, Math.max(0, Math.round(labs[3 * i] as number)));
    counts[step] = (counts[step] as number) + 1;
  }
  let [best, limit, apart] = [0, 0, 0];
  let [below, sumBelow] = [0, 0];
  const sum = counts.reduce((total, count, L) => total + count * L, 0);
  for (const [L, count] of counts.entries()) {
    below += count;
    sumBelow += count * L;
    const above = px.length - below;
    if (below === 0 || above === 0) continue;
    const difference = (sum - sumBelow) / above - sumBelow / below;
    const score = below * above * difference * difference;
    if (score > best) [best, limit, apart] = [score, L, difference];
  }
  return apart > 20 ? limit : 0;
}

function middleLight(reflectance: Float32Array, px: readonly number[]): [number, number, number] {
  const of = (k: number) =>
    Math.log(Math.max(1e-3, medianOf(px.map((i) => reflectance[3 * i + k] as number))));
  return [of(0), of(1), of(2)];
}

/** Where corals are: what has no colour of the base, is no card, and is large enough. */
function coralMask({ even, box, pxPerMm, plane }: StraightRack, labs: Float32Array, base: BaseColours): Mask {
  const { width, height } = even;
  const on = Uint8Array.from({ length: width * height }, (_, i) => (base.has(labs, i) ? 0 : 1));
  for (const card of cardBoxes(plane)) {
    const left = Math.max(0, Math.round((card.x - box.x) * pxPerMm));
    const right = Math.min(width, Math.round((card.x + card.width - box.x) * pxPerMm));
    const top = Math.max(0, Math.round((card.y - box.y) * pxPerMm));
    const low = Math.min(height, Math.round((card.y + card.height - box.y) * pxPerMm));
    for (let y = top; y < low; y++)
      on.fill(0, y * width + left, Math.max(y * width + left, y * width + right));
  }
  return smoothed(smoothed({ width, height, on }));
}

interface Parts {
  px: number[];
  touches: string[];
  touchesEdge: boolean;
}

/** Shares the parts of the mask out among the lots: a part belongs to the lot whose slots it covers most. */
function partsOfLots({ pxPerMm }: StraightRack, cells: Cells, mask: Mask): Map<string, Parts> {
  fillHoles(mask, LARGEST_HOLE * pxPerMm * pxPerMm);
  const parts = new Map<string, Parts>();
  const partsOf = (lot: string) => {
    const found = parts.get(lot) ?? { px: [], touches: [], touchesEdge: false };
    parts.set(lot, found);
    return found;
  };
  for (const region of regionsOf(mask, 1, LEAST_PART * pxPerMm * pxPerMm)) {
    const shares = sharesOf(region, cells);
    const [first] = shares;
    if (first === undefined) continue;
    const large = shares.filter(([, count]) => count > TOUCHING * region.px.length);
    const lots = large.map(([lot]) => lot);
    if (lots.length <= 1) {
      const own = partsOf(first[0]);
      own.px.push(...region.px);
      own.touchesEdge ||= region.touchesEdge;
      continue;
    }
    // Corals that touch are parted where their slots meet.
    for (const i of region.px) {
      const lot = lotAt(cells, i, lots);
      if (lot !== null) partsOf(lot).px.push(i);
    }
    for (const lot of lots) partsOf(lot).touches.push(...lots.filter((other) => other !== lot));
  }
  return parts;
}

/** From which share of a part on a second lot has a claim to it (own choice). */
const TOUCHING = 0.12;

function sharesOf({ px }: Region, { of, lots }: Cells): [string, number][] {
  const counts = new Map<string, number>();
  for (const i of px) {
    const cell = of[i] as number;
    const lot = cell < 0 ? null : lots[cell];
    if (lot !== null && lot !== undefined) counts.set(lot, (counts.get(lot) ?? 0) + 1);
  }
  return [...counts].sort((a, b) => b[1] - a[1]);
}

function lotAt({ of, lots }: Cells, i: number, claims: readonly string[]): string | null {
  const cell = of[i] as number;
  const lot = cell < 0 ? null : (lots[cell] ?? null);
  return lot !== null && claims.includes(lot) ? lot : null;
}

/**
 * The part of the rack that shows a lot, with a little around it, mm: all of its slots where they lie side by side; else the
 * one of them that holds most of it, since other lots stand between.
 */
function boxOf(
  { even, box, pxPerMm, plane, rack }: StraightRack,
  cells: Cells,
  lot: LotToRead,
  px: readonly number[],
): CardBox {
  const [high, wide] = [plane.depth / rack.rows, plane.width / rack.columns];
  const [rows, columns] = [lot.slots.map(({ row }) => row), lot.slots.map(({ column }) => column)];
  const isWhole =
    (Math.max(...rows) - Math.min(...rows) + 1) * (Math.max(...columns) - Math.min(...columns) + 1) ===
    lot.slots.length;
  const slotOf = ({ row, column }: LotToRead['slots'][number]) => row * rack.columns + column;
  const counts = new Map<number, number>();
  for (const i of px) counts.set(cells.of[i] as number, (counts.get(cells.of[i] as number) ?? 0) + 1);
  const fullest = lot.slots.toSorted(
    (a, b) => (counts.get(slotOf(b)) ?? 0) - (counts.get(slotOf(a)) ?? 0),
  )[0];
  const shown = isWhole || fullest === undefined ? lot.slots : [fullest];
  let [left, right] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  let [top, low] = [left, right];
  const take = (x: number, y: number) => {
    [left, right] = [Math.min(left, x), Math.max(right, x)];
    [top, low] = [Math.min(top, y), Math.max(low, y)];
  };
  for (const { row, column } of shown) {
    take(column * wide, row * high);
    take((column + 1) * wide, (row + 1) * high);
  }
  if (shown === lot.slots)
    for (const i of px)
      take(box.x + (i % even.width) / pxPerMm, box.y + Math.floor(i / even.width) / pxPerMm);
  return { x: left - 3, y: top - 3, width: right - left + 6, height: low - top + 6 };
}

function measure(
  straight: StraightRack,
  labs: Float32Array,
  { lot, own, spread }: { lot: LotToRead; own: Parts; spread: number },
): LotFace['measured'] {
  const { even, pxPerMm, box, clipped } = straight;
  const perMm2 = pxPerMm * pxPerMm;
  if (own.px.length < LEAST_PART * perMm2) return { why: 'not told from the base' };
  if (own.touchesEdge) return { why: 'beyond the picture' };
  if (own.px.filter((i) => clipped[i] === 1).length > MOST_CLIPPED * own.px.length) return { why: 'glare' };
  const local = cutOut(own.px, even.width);
  const cover = coverOf(local, even, own.touches.length > 0);
  const count = cover.reduce((sum, value) => sum + value, 0);
  const mask = { ...local.mask, on: Uint8Array.from(cover, (value) => (value >= 0.5 ? 1 : 0)) };
  const first = inner(mask, 1);
  const border = sumOf(mask.on) - sumOf(first.on);
  const within = inner(first, 1);
  const whole = [...mask.on.keys()].filter((i) => within.on[i] === 1);
  const inside = whole.length >= 30 ? whole : [...mask.on.keys()].filter((i) => mask.on[i] === 1);
  const px = inside.map(local.inWhole);
  const channel = (k: number) => px.map((i) => labs[3 * i + k] as number);
  const [L, a, b] = [medianOf(channel(0)), medianOf(channel(1)), medianOf(channel(2))];
  if (baseBeside(local, labs, { L, a, b }) < LEAST_APART) return { why: 'not told from the base' };
  const scatter = medianOf(channel(0).map((value) => Math.abs(value - L))) * 1.4826;
  return {
    whiteness: { L, a, b, uncertainty: whitenessUncertainty(L, scatter, px.length, spread) },
    area: planarArea(
      {
        area: count / perMm2,
        uncertainty: (BORDER_OFF * border) / count + (own.touches.length > 0 ? TOUCHING_OFF : 0),
        middle: middleOf(local, box, pxPerMm),
      },
      lot.height,
      straight.camera,
    ),
    outlines: outlinesOf(mask, LEAST_PART * perMm2).map((outline) =>
      simplified(outline, SMOOTH * pxPerMm).map(({ x, y }) => ({
        x: box.x + (x + local.left) / pxPerMm,
        y: box.y + (y + local.top) / pxPerMm,
      })),
    ),
    touches: [...new Set(own.touches)],
  };
}

/** An outline is drawn as finely as this, mm; it is off by so many px all along (own choices). */
const [SMOOTH, BORDER_OFF] = [0.5, 0.2];

/** A coral that looks so little unlike the base beside it has no outline to rely on, CIEDE2000 (own choice). */
const LEAST_APART = 3;

/** How different a coral looks from the base around it. */
function baseBeside({ mask, inWhole }: ReturnType<typeof cutOut>, labs: Float32Array, own: Lab): number {
  const beside = [...mask.on.keys()].filter((i) => mask.on[i] === 0).map(inWhole);
  const channel = (k: number) => medianOf(beside.flatMap((i) => labs[3 * i + k] ?? []));
  return ciede2000(own, { L: channel(0), a: channel(1), b: channel(2) });
}

const middleOf = ({ mask, left, top }: ReturnType<typeof cutOut>, box: CardBox, pxPerMm: number): Point => ({
  x: box.x + (left + mask.width / 2) / pxPerMm,
  y: box.y + (top + mask.height / 2) / pxPerMm,
});

const sumOf = (values: Uint8Array) => values.reduce((sum, value) => sum + value, 0);

/** So many px are kept around what is cut out, and looked at for the colours to both sides of a border. */
const AROUND = 5;

/** Some px of a wide picture as a mask of their own, with a little around them. */
function cutOut(px: readonly number[], wide: number) {
  let [left, right, top, low] = [wide, 0, Number.MAX_SAFE_INTEGER, 0];
  for (const i of px) {
    const [x, y] = [i % wide, Math.floor(i / wide)];
    [left, right] = [Math.min(left, x), Math.max(right, x)];
    [top, low] = [Math.min(top, y), Math.max(low, y)];
  }
  [left, top] = [left - AROUND, top - AROUND];
  const [width, height] = [right - left + 1 + AROUND, low - top + 1 + AROUND];
  const mask: Mask = { width, height, on: new Uint8Array(width * height) };
  for (const i of px) mask.on[(Math.floor(i / wide) - top) * width + (i % wide) - left] = 1;
  const inWhole = (i: number) => (Math.floor(i / width) + top) * wide + (i % width) + left;
  return { mask, left, top, inWhole };
}

/**
 * How much of each px a coral covers, from 0 to 1. Along its border a px shows a mixture: its share is read from the colours
 * of the coral and the base to both sides (in linear light, where they mix on a straight line).
 */
function coverOf({ mask, inWhole }: ReturnType<typeof cutOut>, even: Evened, touches: boolean): Float32Array {
  const { width, height, on } = mask;
  const cover = Float32Array.from(on);
  if (touches) return cover;
  const core = inner(mask, 2).on;
  const outer = inner({ width, height, on: Uint8Array.from(on, (value) => 1 - value) }, 2).on;
  for (let y = 2; y < height - 2; y++)
    for (let x = 2; x < width - 2; x++) {
      const at = y * width + x;
      if (core[at] === 1 || outer[at] === 1) continue;
      const [coral, base] = [meanAround(core, x, y), meanAround(outer, x, y)];
      const own = colourAt(at);
      if (coral === null || base === null || own === null) continue;
      const apart = coral.map((value, k) => value - (base[k] as number));
      const length = apart.reduce((sum, value) => sum + value * value, 0);
      if (length < 0.002) continue;
      const along = apart.reduce(
        (sum, value, k) => sum + value * ((own[k] as number) - (base[k] as number)),
        0,
      );
      cover[at] = Math.min(1, Math.max(0, along / length));
    }
  return cover;

  function colourAt(i: number): number[] | null {
    const whole = 3 * inWhole(i);
    const value = even.reflectance[whole];
    if (value === undefined) return null;
    return [value, even.reflectance[whole + 1] as number, even.reflectance[whole + 2] as number];
  }

  function meanAround(of: Uint8Array, x: number, y: number): number[] | null {
    const sum = [0, 0, 0];
    let count = 0;
    for (let j = Math.max(0, y - AROUND); j <= Math.min(height - 1, y + AROUND); j++)
      for (let i = Math.max(0, x - AROUND); i <= Math.min(width - 1, x + AROUND); i++) {
        if (of[j * width + i] !== 1) continue;
        const colour = colourAt(j * width + i);
        if (colour === null) continue;
        for (let k = 0; k < 3; k++) sum[k] = (sum[k] as number) + (colour[k] as number);
        count++;
      }
    return count < 4 ? null : sum.map((value) => value / count);
  }
}

/** The borders of the parts of a mask that are large enough, the largest first. */
const outlinesOf = (mask: Mask, least: number): Point[][] =>
  regionsOf(mask, 1, least).map(({ px }) => borderOf(mask, px[0] as number));

/** Parted where slots meet, an outline may be off by so large a share (own choice). */
const TOUCHING_OFF = 0.05;

/** L* by the scatter over the coral, of which neighbours share most, and by what is left of uneven light (the slope of CIE 15). */
function whitenessUncertainty(L: number, scatter: number, count: number, spread: number): number {
  const slope = (L + 16) / 3;
  return Math.hypot((1.25 * scatter) / Math.sqrt(Math.max(1, count / 20)), slope * spread, 0.3);
}
