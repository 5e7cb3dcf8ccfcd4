// How well photographs of racks are read: synthetic ones, drawn by the tests' own renderer of the cards as printed, whose truth
// is known. Prints what was read, refused and measured, and what a photograph of 20 megapixels costs.
//   npm run bench:photographs                 thirty racks and all parts
//   npm run bench:photographs -- 40 read      forty racks, one part: read, refusals (so many of each
//                                           reason), places, series, large, together
import { execFile } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import sharp from 'sharp';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { photograph, printCards, roughShot, usualShot } from '../support/photographs/render.ts';
import { type Coral, type Form, makeScene, type Scene } from '../support/photographs/scene.ts';
import { places } from './photographs/places.ts';
import { isElsewhere, rackOf, take } from './photographs/reading.ts';
import { refusals } from './photographs/refusals.ts';
import { together } from './photographs/together.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const asked = process.argv.slice(2);
const racks = Number(asked.find((word) => /^\d+$/.test(word)) ?? 30);

const flat: readonly Form[] = ['crust', 'disc'];

const percent = (share: number) => `${(100 * share).toFixed(1)} %`;
const quantile = (values: readonly number[], at: number) =>
  values.toSorted((a, b) => a - b)[Math.min(values.length - 1, Math.floor(at * values.length))] ?? Number.NaN;

async function usual(): Promise<void> {
  let [read, lots, left, elsewhere, held, measured] = [0, 0, 0, 0, 0, 0];
  const areas: { flat: number[]; all: number[] } = { flat: [], all: [] };
  for (let n = 0; n < racks; n++) {
    const random = seededRandom(1000 + n);
    const scene = makeScene(random);
    const reading = await take(scene, roughShot(random, scene));
    if ('why' in reading) {
      say(`  rack ${n} (${scene.rows} x ${scene.columns}) was not read: ${reading.why}`);
      continue;
    }
    read++;
    for (const [i, face] of reading.lots.entries()) {
      const coral = scene.corals[i] as Coral;
      lots++;
      if ('why' in face.measured) left++;
      else {
        measured++;
        const { area, low, high } = face.measured.area;
        if (isElsewhere(face, scene)) elsewhere++;
        if (low <= coral.area && coral.area <= high) held++;
        areas.all.push(area / coral.area - 1);
        if (flat.includes(coral.form)) areas.flat.push(area / coral.area - 1);
      }
    }
  }
  say(
    `read: ${read} of ${racks} photographs; lots measured ${measured} of ${lots}, left out ${left}, at a wrong place ${elsewhere}`,
  );
  for (const [name, errors] of Object.entries(areas))
    say(
      `area, ${name}: error at 10, 50, 90 % of lots ${[0.1, 0.5, 0.9].map((at) => percent(quantile(errors, at))).join(', ')}; within 5 %: ${percent(errors.filter((error) => Math.abs(error) <= 0.05).length / errors.length)}`,
    );
  say(`area: the interval holds the truth in ${percent(held / measured)}`);
}

/** The colour 8 % of the way to white. */
const lighter = ([L, a, b]: Coral['colour']): Coral['colour'] => [L + 0.08 * (100 - L), 0.92 * a, 0.92 * b];

/**
 * One rack under many lights, then with every fifth lot lighter. Each L* is taken less the rack's median change; the scatter of
 * unchanged lots is learnt from the first photographs, as a farm would.
 */
async function series(): Promise<void> {
  const random = seededRandom(3001);
  const scene = makeScene(random, { rows: 6, columns: 10, filled: 0.75 });
  const shots = Array.from({ length: 8 }, () => usualShot(random, { width: 2000, height: 1500 }));
  const after: Scene = {
    ...scene,
    corals: scene.corals.map((coral, i) =>
      i % 5 === 0 ? { ...coral, colour: lighter(coral.colour) } : coral,
    ),
  };
  const values: (number | null)[][] = [];
  for (const [n, shot] of shots.entries()) {
    const reading = await take(n < 6 ? scene : after, shot);
    if ('why' in reading) continue;
    values.push(reading.lots.map(({ measured }) => ('why' in measured ? null : measured.whiteness.L)));
  }
  const [before, then] = [values.slice(0, -2), values.slice(-2)];
  const usualOf = (i: number) =>
    quantile(
      before.flatMap((row) => row[i] ?? []),
      0.5,
    );
  const changes = values.map((row) => row.map((value, i) => (value === null ? null : value - usualOf(i))));
  const common = changes.map((row) =>
    quantile(
      row.flatMap((value) => value ?? []),
      0.5,
    ),
  );
  const off = (n: number, i: number) => (changes[n]?.[i] ?? 0) - (common[n] as number);
  const sd = (numbers: readonly number[]) =>
    Math.sqrt(numbers.reduce((sum, value) => sum + value * value, 0) / numbers.length);
  const unchanged = before.flatMap((row, n) => row.map((_, i) => off(n, i)));
  const raw = before.flatMap((row, n) => row.flatMap((_, i) => changes[n]?.[i] ?? []));
  const learnt = sd(unchanged);
  say(
    `whiteness of unchanged lots over ${before.length} lights: SD ${sd(raw).toFixed(2)} L*, less the rack's own shift ${learnt.toFixed(2)} L*`,
  );
  const told = (i: number) => then.every((_, n) => off(before.length + n, i) > 2.5 * learnt);
  const [lightened, same] = [
    scene.corals.keys().filter((i) => i % 5 === 0),
    scene.corals.keys().filter((i) => i % 5 !== 0),
  ].map((kept) => [...kept]);
  const share = (lots: readonly number[] = []) => `${lots.filter(told).length} of ${lots.length}`;
  say(`8 % of the way to white, told in two photographs: ${share(lightened)}; falsely: ${share(same)}`);
}

/** A photograph of 20 megapixels, read three times by a process that does nothing else. */
async function large(): Promise<void> {
  const random = seededRandom(4001);
  const scene = makeScene(random, { rows: 8, columns: 14 });
  const shot = usualShot(random, { width: 2736, height: 1824 });
  const { jpeg } = await photograph(scene, await printCards(scene.rackId), shot);
  const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
  const [picture, rack] = [join(folder, 'picture.jpg'), join(folder, 'rack.json')];
  const { size } = await sharp(jpeg).resize(5472, 3648).jpeg({ quality: 90 }).toFile(picture);
  await writeFile(rack, JSON.stringify(rackOf(scene)));
  const alone = fileURLToPath(new URL('./photographs/large-alone.ts', import.meta.url));
  const { stdout } = await promisify(execFile)(process.execPath, [alone, picture, rack]);
  say(`20 megapixels, ${(size / 1e6).toFixed(1)} MB, ${stdout.trim()}`);
  await rm(folder, { recursive: true, force: true });
}

const parts = {
  read: usual,
  refusals: () => refusals(say, racks),
  places: () => places(say),
  series,
  large,
  together: () => together(say),
};
const chosen = asked.filter((word) => word in parts);
for (const [name, part] of Object.entries(parts))
  if (chosen.length === 0 || chosen.includes(name)) await part();
process.exit(0);
