import { lightField, ordinaryKriging, type Site, type Variogram } from '../../src/science/kriging.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';

/** Root mean square errors at places that were withheld. */
export interface Withheld {
  kriging: number;
  inverseDistance: number;
}

/** Inverse distance weighting with the power 2 (Shepard 1968), the usual rival. */
export function inverseDistance(sites: readonly Site[], place: { x: number; y: number }): number {
  let [sum, weights] = [0, 0];
  for (const site of sites) {
    const squared = (site.x - place.x) ** 2 + (site.y - place.y) ** 2;
    if (squared === 0) return site.value;
    sum += site.value / squared;
    weights += 1 / squared;
  }
  return sum / weights;
}

const [ROWS, COLUMNS, PITCH_X, PITCH_Y] = [12, 20, 50, 45] as const;
const READ = 20;
const NOISE = 0.03;

/** Slots of a 12 x 20 rack in mm under two to four lamps of 180 to 350 mm reach, in umol/(m2 s). */
function lampField(seed: number): { slots: Site[]; readings: Site[]; withheld: Site[] } {
  const random = seededRandom(seed);
  const lamps = Array.from({ length: 2 + random.below(3) }, () => ({
    x: random.uniform() * COLUMNS * PITCH_X,
    y: random.uniform() * ROWS * PITCH_Y,
    power: 80 + 120 * random.uniform(),
    reach: 180 + 170 * random.uniform(),
  }));
  const par = (x: number, y: number) =>
    30 +
    lamps.reduce(
      (sum, lamp) => sum + lamp.power / (1 + ((x - lamp.x) ** 2 + (y - lamp.y) ** 2) / lamp.reach ** 2),
      0,
    );
  const slots = Array.from({ length: ROWS * COLUMNS }, (_, i) => {
    const [x, y] = [(i % COLUMNS) * PITCH_X, Math.floor(i / COLUMNS) * PITCH_Y];
    return { x, y, value: par(x, y) };
  });
  const order = slots.map((slot) => ({ slot, key: random.uniform() })).sort((a, b) => a.key - b.key);
  const read = order.slice(0, READ).map(({ slot }) => slot);
  const readings = read.map((slot) => ({ ...slot, value: slot.value * (1 + NOISE * random.normal()) }));
  return { slots, readings, withheld: order.slice(READ).map(({ slot }) => slot) };
}

const rms = (errors: readonly number[]) =>
  Math.sqrt(errors.reduce((sum, error) => sum + error ** 2, 0) / errors.length);

/** Both methods on a rack whose light is known everywhere, read at 20 slots of 240 with 3 % error. */
export function onRack(seed: number): Withheld {
  const { readings, withheld } = lampField(seed);
  const field = lightField(readings);
  return {
    kriging: rms(withheld.map((slot) => field.at(slot).value - slot.value)),
    inverseDistance: rms(withheld.map((slot) => inverseDistance(readings, slot) - slot.value)),
  };
}

/** Both methods with each site of a data set withheld in turn. */
export function onSites(sites: readonly Site[], variogram: Variogram): Withheld {
  const others = (i: number) => sites.filter((_, j) => j !== i);
  return {
    kriging: ordinaryKriging(sites, variogram).leaveOneOut().rmse,
    inverseDistance: rms(sites.map((site, i) => inverseDistance(others(i), site) - site.value)),
  };
}

/** Thirty racks by fixed seeds: the mean errors, how much smaller kriging's is in the middle, and how often it wins. */
export function onThirtyRacks(): Withheld & { smaller: number; wins: number } {
  const all = Array.from({ length: 30 }, (_, i) => onRack(i + 1));
  const mean = (of: (one: Withheld) => number) => all.reduce((sum, one) => sum + of(one), 0) / all.length;
  const shares = all.map((one) => one.kriging / one.inverseDistance).sort((a, b) => a - b);
  return {
    kriging: mean((one) => one.kriging),
    inverseDistance: mean((one) => one.inverseDistance),
    smaller: 1 - (shares[15] ?? 1),
    wins: all.filter((one) => one.kriging < one.inverseDistance).length,
  };
}
