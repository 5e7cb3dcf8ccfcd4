import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import { type Shot, usualShot } from '../../support/photographs/render.ts';
import { makeScene } from '../../support/photographs/scene.ts';
import { take } from './reading.ts';

/** Seeds of the report. */
const REPORT = 90_000;

const between = (random: Random, low: number, high: number) => low + (high - low) * random.uniform();

/** Everything about light and camera as well as it can be; each kind then changes one thing to the edge of what is read. */
const best: Partial<Shot> = {
  ...{ light: [1, 1, 1], uneven: 0, vignette: 0, tone: 1, veil: 0, exposure: 0.6, noise: 0.003 },
  ...{ blur: 0.6, quality: 92, ripple: 0.05, tilt: 2, lens: 0 },
};
type Vary = (random: Random) => Partial<Shot>;
const kinds: Readonly<Record<string, Vary>> = {
  'white and even': () => ({}),
  blue: (random) => ({ light: [between(random, 0.38, 0.5), between(random, 0.75, 0.85), 1] }),
  'uneven, dark towards the edges': (random) => ({
    uneven: between(random, 0.25, 0.35),
    vignette: between(random, 0.15, 0.25),
    brightest: [between(random, -0.5, 0.5), between(random, -0.5, 0.5)],
  }),
  dim: (random) => ({ exposure: between(random, 0.15, 0.25), noise: 0.006 }),
  bright: (random) => ({ exposure: between(random, 0.75, 0.85) }),
  'tones bent by the camera': (random) => ({ tone: random.uniform() < 0.5 ? 0.9 : 1.1 }),
  'veiled water': (random) => ({ veil: between(random, 0.008, 0.012) }),
  'soft, noisy, packed hard': (random) => ({
    ...{ blur: between(random, 1, 1.4), noise: 0.008, quality: 78 },
  }),
  'from the side, through ripples': (random) => ({
    ...{ tilt: between(random, 10, 14), ripple: between(random, 0.3, 0.4), towards: between(random, 0, 360) },
  }),
};

/** A lot's L* in one photograph, less its middle over all of them. */
interface Change {
  kind: string;
  photograph: number;
  lot: string;
  off: number;
  u: number;
}

const median = (values: readonly number[]) => {
  const sorted = values.toSorted((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1
    ? (sorted[half] as number)
    : ((sorted[half - 1] ?? Number.NaN) + (sorted[half] ?? Number.NaN)) / 2;
};
const sd = (values: readonly number[]) =>
  Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);

/**
 * How far L* of lots that do not change differs from their own middle over all kinds of light, by kind of light: as it is read,
 * and less what the whole rack shares.
 * @param racks how many of them, each photographed twice in each kind of light and twice in a mixture of all
 */
export async function lights(say: (line: string) => void, racks: number): Promise<Change[]> {
  const changes: Change[] = [];
  let [photographs, unread] = [0, 0];
  for (let rack = 0; rack < racks; rack++) {
    const random = seededRandom(REPORT + rack);
    const scene = makeScene(random, { rows: 5, columns: 8, filled: 0.75 });
    const wide = scene.columns * scene.pitchX + 136;
    const values: { kind: string; L: Map<string, { L: number; uncertainty: number }> }[] = [];
    for (const [kind, vary] of [...Object.entries(kinds), ['all at once', null] as const])
      for (let n = 0; n < 2; n++) {
        const own = usualShot(random, { fill: 0.86 });
        const longer = Math.ceil((2.6 / 0.86) * Math.max(wide, (scene.rows * scene.pitchY * 4) / 3));
        const size = { width: longer, height: Math.ceil(longer * 0.75) };
        const shot = vary === null ? { ...own, ...size } : { ...own, ...best, ...vary(random), ...size };
        const reading = await take(scene, shot);
        photographs++;
        if ('why' in reading) {
          unread++;
          say(`  ${kind}: not read: ${reading.why}`);
          continue;
        }
        const lots = reading.lots.flatMap(({ id, measured }) =>
          'why' in measured ? [] : [[id, measured.whiteness] as const],
        );
        values.push({ kind, L: new Map(lots) });
      }
    for (const { id } of scene.corals) {
      const middle = median(values.flatMap(({ L }) => L.get(id)?.L ?? []));
      for (const [i, { kind, L }] of values.entries()) {
        const own = L.get(id);
        if (own !== undefined)
          changes.push({
            ...{ kind, photograph: 100 * rack + i, lot: `${rack} ${id}` },
            ...{ off: own.L - middle, u: own.uncertainty },
          });
      }
    }
  }
  const shifts = new Map<number, number>();
  for (const { photograph } of changes)
    if (!shifts.has(photograph))
      shifts.set(
        photograph,
        median(changes.filter((change) => change.photograph === photograph).map(({ off }) => off)),
      );
  const line = (name: string, of: readonly Change[]) =>
    say(
      `  ${name}: SD ${sd(of.map(({ off }) => off)).toFixed(2)} L*, less the rack's own shift ${sd(of.map(({ off, photograph }) => off - (shifts.get(photograph) ?? 0))).toFixed(2)} L*`,
    );
  say(
    `whiteness of unchanged lots by kind of light, ${photographs - unread} of ${photographs} photographs read:`,
  );
  for (const kind of [...Object.keys(kinds), 'all at once'])
    line(
      kind,
      changes.filter((change) => change.kind === kind),
    );
  line('over all of them', changes);
  return changes;
}
