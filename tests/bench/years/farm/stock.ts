import type { Chance } from '../chance.ts';

/** Groups of corals with what suits them; edges of light as growers have them (common practice). */
export interface Group {
  name: string;
  genus: string;
  /** Light it is kept at and bears, umol/(m2 s). */
  low: number;
  high: number;
  ceiling: number;
  /** How much more than others it minds heat and alkalinity, and how fast it lays down skeleton. */
  tender: number;
  builds: number;
  flow: 'low' | 'medium' | 'high';
  /** It reaches a neighbour. */
  stings: boolean;
}

export const groups: readonly Group[] = [
  {
    name: 'brain',
    genus: 'Platygyra',
    low: 50,
    high: 130,
    ceiling: 190,
    tender: 1,
    builds: 1,
    flow: 'low',
    stings: false,
  },
  {
    name: 'branching',
    genus: 'Acropora',
    low: 170,
    high: 350,
    ceiling: 460,
    tender: 1.35,
    builds: 2.2,
    flow: 'high',
    stings: false,
  },
  {
    name: 'sweeping',
    genus: 'Euphyllia',
    low: 70,
    high: 160,
    ceiling: 220,
    tender: 0.9,
    builds: 1,
    flow: 'low',
    stings: true,
  },
  {
    name: 'leather',
    genus: 'Sarcophyton',
    low: 50,
    high: 170,
    ceiling: 300,
    tender: 0.6,
    builds: 0.15,
    flow: 'medium',
    stings: false,
  },
];

/** One piece on its mount. */
export interface Piece {
  /** 1: full colour; flesh 1: all of it. */
  colour: number;
  flesh: number;
  /** How much it bears: 1 in the middle, each its own. */
  bears: number;
  size: number;
  alive: boolean;
  /** It was pale once in the year. */
  paled: boolean;
  /** Days until its cut has closed. */
  wound: number;
  /** When it dies of what nobody finds out: a twentieth of all a year, the same ones under every policy (own assumption). */
  endsDay: number;
}

/** What does harm beside water and light. 0: nothing. */
export interface Ills {
  pest: number;
  rot: number;
  sting: number;
}

export interface Lot {
  id: string;
  name: string;
  group: Group;
  rack: number;
  /** `par`: its light under lamps as they should be. */
  cell: { row: number; column: number; par: number };
  pieces: Piece[];
  /** The light it is used to, umol/(m2 s). */
  usedTo: number;
  placedDay: number;
  ills: Ills;
  /** It stands in water of its own since this day. */
  apartSince: number | null;
  /** What harmed it in the last weeks, fading by 3 % a day. */
  harm: Partial<Record<Channel, number>>;
}

/** What the water was in one day. */
export interface WaterDay {
  alkalinity: number;
  /** How far alkalinity moved in the day, meq/L. */
  moved: number;
  salinity: number;
  degC: number;
  /** Degree-hours above 31 and below 19 degC. */
  hotHours: number;
  coldHours: number;
  nitrate: number;
  phosphate: number;
  /** Hours below 3.5 and below 2 mg/L of oxygen. */
  airlessHours: number;
  deadlyHours: number;
}

/** What can harm, kept apart so that a loss can be told by its cause. */
export const channels = [
  'low alkalinity',
  'high alkalinity',
  'heat',
  'cold',
  'salinity',
  'nutrients',
  'air',
  'bright',
  'dark',
  'pest',
  'rot',
  'sting',
] as const;
export type Channel = (typeof channels)[number];

const above = (value: number, edge: number) => Math.max(0, value - edge);

/**
 * What a day of water does to a piece of middling strength: 1 begins to cost flesh. Edges from reports where there are
 * any (alkalinity under 5-6 dKH, 1 degC over the summer for weeks, 28 and 38 PSU, nitrate from 30-40 mg/L, oxygen under
 * 3.7 mg/L); how steep it goes is an own assumption.
 */
function stressOfWater(day: WaterDay, { tender }: Group): Partial<Record<Channel, number>> {
  const swings = 1.6 * above(Math.abs(day.moved), 0.42);
  return {
    'low alkalinity': tender * (1.7 * above(2.05, day.alkalinity) + (day.moved < 0 ? swings : 0)),
    'high alkalinity': tender * (0.7 * above(day.alkalinity, 4.5) + (day.moved > 0 ? swings : 0)),
    heat: tender * (0.32 * above(day.degC, 28.9) + day.hotHours / 50),
    cold: 0.12 * above(21.5, day.degC) + day.coldHours / 60,
    salinity: 0.2 * above(31, day.salinity) + 0.4 * above(day.salinity, 37.4),
    nutrients: above(day.nitrate, 26) / 45 + 0.5 * above(day.phosphate, 0.5),
    air: day.airlessHours / 9 + day.deadlyHours / 3,
  };
}

/** What its light does: more than it is used to or bears, or too little to live on. */
function stressOfLight(par: number, { usedTo, group }: Pick<Lot, 'usedTo' | 'group'>) {
  const jump = above(Math.log2(par / usedTo), 0.45);
  return {
    bright: 0.75 * jump + 1.5 * above(par / group.ceiling, 1),
    dark: 0.55 * above(1, par / (0.5 * group.low)),
  };
}

/** Light is got used to by a twentieth a day (three weeks both ways: published for fluorescence). */
const adapting = 1 / 20;

/** Lets a day pass over a lot with this light at its place, and says which pieces died and which paled. */
export function liveDay(
  lot: Lot,
  par: number,
  water: WaterDay,
  day: number,
): { died: number; paled: number } {
  const light = stressOfLight(par, lot);
  lot.usedTo += (par - lot.usedTo) * adapting;
  const inWater = lot.apartSince === null ? stressOfWater(water, lot.group) : {};
  const fromWater = Object.values(inWater).reduce((sum, one) => sum + one, 0);
  const { pest, rot, sting } = lot.ills;
  // In water of its own it stands out of its neighbour's reach.
  const eats = { pest: 1.1 * pest, rot, sting: lot.apartSince === null ? 0.8 * sting : 0 };
  const all: Partial<Record<Channel, number>> = { ...inWater, ...light, ...eats };
  for (const channel of channels) lot.harm[channel] = 0.97 * (lot.harm[channel] ?? 0) + (all[channel] ?? 0);
  // Light and heat add up to more than each of them.
  const whole = fromWater + light.bright + light.dark + 0.6 * Math.min(inWater.heat ?? 0, light.bright);
  const load = { whole, eats: eats.pest + eats.rot + eats.sting, growth: lot.group.builds, day };
  const count = { died: 0, paled: 0 };
  for (const piece of lot.pieces) {
    if (!piece.alive) continue;
    const was = piece.paled;
    live(piece, load);
    if (!was && piece.paled) count.paled += 1;
    if (!piece.alive) count.died += 1;
  }
  return count;
}

interface Load {
  whole: number;
  eats: number;
  growth: number;
  day: number;
}

function live(piece: Piece, { whole, eats, growth, day }: Load): void {
  const open = piece.wound > 0 ? 1.3 : 1;
  const stress = (open * whole) / piece.bears;
  const calm = stress < 0.15 && eats < 0.1;
  piece.colour = calm
    ? piece.colour + 0.03 * (1 - piece.colour)
    : Math.max(0, piece.colour - Math.min(0.2, 0.13 * above(stress, 0.15)) - 0.02 * eats);
  const lost = 0.1 * above(stress, 0.7) + 0.03 * above(0.4, piece.colour) + (0.05 * eats) / piece.bears;
  piece.flesh = calm ? piece.flesh + 0.008 * (1 - piece.flesh) - lost : piece.flesh - lost;
  piece.size *= calm && piece.colour > 0.7 ? 1 + 0.0012 * growth : 1;
  piece.wound = Math.max(0, piece.wound - (calm ? 1 : 0));
  piece.paled ||= piece.colour < paleBelow;
  if (piece.flesh < 0.35 || day >= piece.endsDay) piece.alive = false;
}

const paleBelow = 0.65;

/** Whether nobody would sell it: pale, receded or with an open cut. */
export const isUnsaleable = ({ alive, colour, flesh, wound }: Piece): boolean =>
  !alive || colour < paleBelow || flesh < 0.8 || wound > 0;

/** How much a lot lays down, in units of a piece of usual size and full health. */
export function buildsOf({ pieces, group, apartSince }: Lot): number {
  if (apartSince !== null) return 0;
  let sum = 0;
  for (const { alive, size, colour, flesh } of pieces) if (alive) sum += size * flesh * (0.3 + 0.7 * colour);
  return group.builds * sum;
}

/** A new piece: `cut` where it was cut just now. */
export function newPiece(
  chance: Chance,
  { cut, day }: { cut: boolean; day: number },
  ...what: readonly (string | number)[]
): Piece {
  const bears = Math.exp(0.3 * chance.normal('bears', ...what));
  const size = chance.between(0.5, 1.2, 'size', ...what);
  return {
    colour: 1,
    flesh: 1,
    bears,
    size,
    alive: true,
    paled: false,
    wound: cut ? 18 : 0,
    endsDay: day + chance.wait(20 * 365, 'ends', ...what),
  };
}

/** What somebody who looks well would see of a lot: the worst sign that a third of its pieces show. */
export function signOf(lot: Lot): { state: 'well' | 'paling' | 'bleached' | 'receding'; grade: 1 | 2 | 3 } {
  const living = lot.pieces.filter(({ alive }) => alive);
  const part = (is: (piece: Piece) => boolean) => living.filter(is).length / Math.max(1, living.length);
  const receding = part(({ flesh }) => flesh < 0.85);
  if (receding >= 0.25) return { state: 'receding', grade: gradeOf(receding) };
  const bleached = part(({ colour }) => colour < 0.3);
  if (bleached >= 0.25) return { state: 'bleached', grade: gradeOf(bleached) };
  const paling = part(({ colour }) => colour < 0.75);
  if (paling >= 0.25) return { state: 'paling', grade: gradeOf(paling) };
  return { state: 'well', grade: 1 };
}

const gradeOf = (part: number): 1 | 2 | 3 => (part < 0.4 ? 1 : part < 0.75 ? 2 : 3);

/** How much flesh and colour a lot has, 1: all; pieces that died have none. */
export function healthOf({ pieces }: Lot): { flesh: number; colour: number } {
  const mean = (of: (piece: Piece) => number) =>
    pieces.reduce((sum, piece) => sum + (piece.alive ? of(piece) : 0), 0) / Math.max(1, pieces.length);
  return { flesh: mean(({ flesh }) => flesh), colour: mean(({ colour }) => colour) };
}
