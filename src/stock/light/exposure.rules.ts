import { type LightEstimate, lightAt, type SlotLightHistory } from '../../farm/light/slot-light.rules.ts';

/** One stay of a lot: its slots from when to when (null: still there). */
export interface Stay {
  slotIds: readonly string[];
  from: Date;
  to: Date | null;
}

/** A period of constant light at a lot. */
export interface Exposure {
  from: Date;
  /** Null while it lasts. */
  to: Date | null;
  /** Mean over the lot's slots at full light, umol/(m2 s). */
  par: number;
  /** The brightest of its slots. */
  parMax: number;
  /** Daily light integral, mol/(m2 d). */
  dli: number;
  /** Standard error of `par`. */
  error: number;
  /** The first of its slots, and its rack. */
  slotId: string;
  rackId: string;
  /** True when it was scaled or not known at some of its slots. */
  estimated: boolean;
  /** False where no lamp is known at one of its slots: `dli` then comes from assumed hours and is not said. */
  hoursKnown: boolean;
}

/**
 * The pieces of constant light of one stay, cut wherever a survey was made, lamps were turned or the rack was hung
 * otherwise within it, and joined again where that changed nothing. Time of which the light is not known gives no piece.
 */
export function exposuresOf(stay: Stay, histories: ReadonlyMap<string, SlotLightHistory>): Exposure[] {
  const slots = stay.slotIds.map((id) => histories.get(id)).filter((slot) => slot !== undefined);
  const starts = turningPoints(stay, slots);
  const pieces = starts.map((from, i) => pieceFrom(slots, from, starts[i + 1] ?? stay.to));
  return join(pieces.filter((piece) => piece !== null));
}

function turningPoints({ from, to }: Stay, slots: readonly SlotLightHistory[]): Date[] {
  const [first, last] = [from.getTime(), to?.getTime() ?? Number.POSITIVE_INFINITY];
  const times = new Map([[first, from]]);
  const add = (rows: readonly { at: Date }[]) => {
    for (const { at } of rows) {
      const time = at.getTime();
      if (time > first && time < last) times.set(time, at);
    }
  };
  for (const { surveys, settings, mountings = [] } of slots) {
    add(surveys);
    add(settings);
    add(mountings);
    for (const mounting of mountings) add(mounting.settings);
  }
  return [...times.keys()].sort((a, b) => a - b).map((time) => times.get(time) as Date);
}

function pieceFrom(slots: readonly SlotLightHistory[], from: Date, to: Date | null): Exposure | null {
  const lit = slots.map((slot) => lightAt(slot, from)).filter((light) => light !== null);
  const [first] = slots;
  const [only] = lit;
  if (first === undefined || only === undefined) return null;
  const { slotId, rackId } = first;
  if (slots.length === 1) {
    const { measured: _, ...light } = only;
    return { from, to, ...light, parMax: only.par, slotId, rackId };
  }
  // Neighbouring slots share a survey's error, so a mean over them is no more certain than one of them.
  const mean = (of: (light: LightEstimate) => number) =>
    lit.reduce((sum, light) => sum + of(light), 0) / lit.length;
  return {
    from,
    to,
    par: mean((light) => light.par),
    parMax: Math.max(...lit.map((light) => light.par)),
    dli: mean((light) => light.dli),
    error: mean((light) => light.error),
    slotId,
    rackId,
    estimated: lit.length < slots.length || lit.some((light) => light.estimated),
    hoursKnown: lit.every((light) => light.hoursKnown),
  };
}

const sameLight = (a: Exposure, b: Exposure) =>
  a.par === b.par &&
  a.parMax === b.parMax &&
  a.dli === b.dli &&
  a.error === b.error &&
  a.estimated === b.estimated &&
  a.hoursKnown === b.hoursKnown;

function join(pieces: readonly Exposure[]): Exposure[] {
  const joined: Exposure[] = [];
  for (const piece of pieces) {
    const last = joined.at(-1);
    if (last !== undefined && last.to?.getTime() === piece.from.getTime() && sameLight(last, piece)) {
      last.to = piece.to;
    } else joined.push(piece);
  }
  return joined;
}
