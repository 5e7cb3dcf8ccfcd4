// How well photographs of racks are read: synthetic ones, drawn by the tests' own renderer of the cards as printed, whose truth
// is known. Prints what was read, refused and measured, and what a photograph of 20 megapixels costs.
//   npm run bench:photographs                 thirty racks and all parts
//   npm run bench:photographs -- 40 read      forty racks, one part: read, refusals (so many of each
//                                           reason), places, lights, large, together
import { execFile } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import sharp from 'sharp';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { photograph, printCards, roughShot, usualShot } from '../support/photographs/render.ts';
import { type Coral, type Form, makeScene } from '../support/photographs/scene.ts';
import { lights } from './photographs/lights.ts';
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

/** Seeds of the report; borders of corals were worked out on those from 1,000. */
const REPORT = 7000;
/**
 * A flat coral's area is claimed to be within 5 % where its own interval reaches no further than this to both sides (own choice):
 * it is wider where the camera stood aside of it, where it is small, and where the file does not tell the lens.
 */
const SURE = 0.075;
const SURE_WORDS = 'flat, its own interval at most 7.5 % to both sides';

async function usual(): Promise<void> {
  let [read, lots, left, elsewhere, held, measured] = [0, 0, 0, 0, 0, 0];
  const areas: Record<'flat' | 'all' | typeof SURE_WORDS, number[]> = { flat: [], [SURE_WORDS]: [], all: [] };
  for (let n = 0; n < racks; n++) {
    const random = seededRandom(REPORT + n);
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
        if (!flat.includes(coral.form)) continue;
        areas.flat.push(area / coral.area - 1);
        if ((high - low) / 2 / area <= SURE) areas[SURE_WORDS].push(area / coral.area - 1);
      }
    }
  }
  say(
    `read: ${read} of ${racks} photographs; lots measured ${measured} of ${lots}, left out ${left}, at a wrong place ${elsewhere}`,
  );
  for (const [name, errors] of Object.entries(areas))
    say(
      `area, ${name}: error at 10, 50, 90 % of lots ${[0.1, 0.5, 0.9].map((at) => percent(quantile(errors, at))).join(', ')}; within 5 %: ${percent(errors.filter((error) => Math.abs(error) <= 0.05).length / errors.length)} of ${errors.length}`,
    );
  say(`area: the interval holds the truth in ${percent(held / measured)}`);
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
  lights: async () => {
    await lights(say, Math.max(1, Math.round(racks / 10)));
  },
  large,
  together: () => together(say),
};
const chosen = asked.filter((word) => word in parts);
for (const [name, part] of Object.entries(parts))
  if (chosen.length === 0 || chosen.includes(name)) await part();
process.exit(0);
