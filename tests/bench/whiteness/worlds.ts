import { seededRandom } from '../../../src/science/statistics/random.ts';
import type { Shot, Whiteness } from '../../../src/science/whiteness/visits.ts';

/** How photographs of a rack come about. All in L*; what the reader is held to is 1.5 L* in all. */
export interface Light {
  name: string;
  /** Scatter of a lot from photograph to photograph, in the middle of lots; shift of the rack from visit to visit. */
  scatter: number;
  shift: number;
  /** Now and then the lamp, the camera or the cards change for good, by about as much. */
  step: number;
  /** How unlike lots answer one shift. */
  unlike: number;
  /** How far a lot's own colour wanders over two months. */
  wander: number;
}

export const lights: readonly Light[] = [
  { name: 'calm', scatter: 0.5, shift: 0.5, step: 0, unlike: 0.05, wander: 0.3 },
  { name: 'usual', scatter: 0.8, shift: 1.2, step: 2, unlike: 0.1, wander: 0.4 },
  { name: 'rough', scatter: 1.1, shift: 2, step: 4, unlike: 0.15, wander: 0.5 },
];

export interface World {
  seed: number;
  lots: number;
  light: Light;
  /** Days between visits, and how many there are; part of the visits left out. */
  every: number;
  visits: number;
  missing: number;
  /** Lighter by this part of the way to white from this visit on. */
  lighten: { from: number; share: number; lots: number } | null;
}

/** Photographs of one made-up rack. Lots are named by their number; the first ones are those that lighten. */
export function whitenessWorld(world: World): Shot[] {
  const { lots, light, every, visits, missing, lighten } = world;
  const [random, reading] = [seededRandom(world.seed), seededRandom(world.seed + 1)];
  const made = Array.from({ length: lots }, () => ({
    level: 30 + 35 * random.uniform(),
    scatter: light.scatter * Math.exp(0.35 * random.normal()),
    answers: 1 + light.unlike * random.normal(),
    wander: light.wander * random.normal(),
    // The reader's own uncertainty tells a lot's scatter by a correlation of 0.7, as drawn photographs have it at most.
    reads: Math.exp(0.35 * reading.normal()),
  }));
  const shots: Shot[] = [];
  let step = 0;
  for (let visit = 0; visit < visits; visit++) {
    if (random.uniform() < 0.03) step += light.step * random.normal();
    const keep = Math.exp(-every / 60);
    for (const lot of made)
      lot.wander = keep * lot.wander + light.wander * Math.sqrt(1 - keep * keep) * random.normal();
    const isLeftOut = random.uniform() < missing && (lighten === null || visit < lighten.from);
    const shift = light.shift * random.normal() + step;
    const values = new Map<string, Whiteness>();
    for (const [i, lot] of made.entries()) {
      const isWild = random.uniform() < 0.02;
      const noise = lot.scatter * random.normal() * (isWild ? 5 : 1);
      const isLit = lighten !== null && visit >= lighten.from && i < lighten.lots;
      const own = lot.level + lot.wander;
      const L = (isLit ? own + lighten.share * (100 - own) : own) + shift * lot.answers + noise;
      if (random.uniform() > 0.08)
        values.set(String(i), { L, u: Math.max(0.3, 0.7 * lot.scatter * lot.reads) });
    }
    if (!isLeftOut) shots.push({ day: visit * every + 0.1 * random.uniform(), lots: values });
  }
  return shots;
}
