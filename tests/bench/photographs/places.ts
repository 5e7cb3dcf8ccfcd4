import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import { type CardPicture, printCards, roughShot, type Shot } from '../../support/photographs/render.ts';
import { makeScene, rackIdOf, type Scene } from '../../support/photographs/scene.ts';
import { isElsewhere, take } from './reading.ts';

const sizes: readonly [number, number][] = [
  [4, 8],
  [6, 10],
  [8, 14],
  [12, 20],
];
const turns = [0, 90, 180, 270];

/** Cards of another rack that lie in the picture too, at their places on a rack beside this one. */
type Beside = (scene: Scene, other: readonly CardPicture[]) => Shot['strays'];
const deepOf = (scene: Scene) => scene.rows * scene.pitchY;
const wideOf = (scene: Scene) => scene.columns * scene.pitchX;
const besides: Readonly<Record<string, Beside>> = {
  alone: () => [],
  'with a rack in front of it': (scene, other) =>
    other.map((card, i) => ({
      x: i % 2 === 0 ? -34 : wideOf(scene) + 34,
      y: deepOf(scene) + 12 + (i < 2 ? 25 : 150),
      ...{ turn: 0, card },
    })),
  'with one card of another beside it': (scene, other) => [
    { x: -34, y: deepOf(scene) / 2, turn: 20, card: other[1] as CardPicture },
  ],
  'with a rack behind it, turned about': (scene, other) =>
    other.map((card, i) => ({
      x: i % 2 === 0 ? wideOf(scene) + 34 : -34,
      y: -12 - (i < 2 ? 25 : 150),
      ...{ turn: 180, card },
    })),
};

/** A picture that shows the rack, turned by quarters, and so much around it. */
function shotOf(random: Random, scene: Scene, turn: number, strays: Shot['strays']): Shot {
  const shot = roughShot(random, scene, { glare: [], covers: [], strays });
  const fill = strays.length > 1 ? 0.55 : 0.85;
  const longer = Math.ceil((2.4 / fill) * Math.max(wideOf(scene) + 136, (deepOf(scene) * 4) / 3));
  const [width, height] =
    turn % 180 === 0 ? [longer, Math.ceil(longer * 0.75)] : [Math.ceil(longer * 0.75), longer];
  return { ...shot, width, height, fill, tilt: shot.tilt / 2, roll: turn + 3 * (random.uniform() - 0.5) };
}

/** Says whether a lot was ever given another's place, or a rack another's lots, over sizes of racks, turns, and other racks beside. */
export async function places(say: (line: string) => void): Promise<void> {
  let [read, photographs, lots, elsewhere] = [0, 0, 0, 0];
  const not: string[] = [];
  for (const [s, [rows, columns]] of sizes.entries())
    for (const [t, turn] of turns.entries()) {
      const random = seededRandom(80_000 + 10 * s + t);
      const scene = makeScene(random, { rows, columns });
      const [name, beside] = Object.entries(besides)[(s + t) % turns.length] as [string, Beside];
      const other = await printCards(rackIdOf(random));
      const reading = await take(scene, shotOf(random, scene, turn, beside(scene, other)));
      photographs++;
      if ('why' in reading) {
        not.push(`${rows} x ${columns} turned by ${turn}, ${name}: ${reading.why}`);
        continue;
      }
      read++;
      lots += reading.lots.length;
      elsewhere += reading.lots.filter((face) => isElsewhere(face, scene)).length;
    }
  for (const line of not) say(`  not read: ${line}`);
  say(
    `racks of 4 x 8 to 12 x 20, turned by quarters, alone and beside others: ${read} of ${photographs} read; ${elsewhere} of ${lots} lots at another's place`,
  );
  await wrongRacks(say);
}

/** Photographs in which the rack asked for is not the one that all four cards show: none may be read. */
async function wrongRacks(say: (line: string) => void): Promise<void> {
  const said = new Map<string, number>();
  for (let i = 0; i < 8; i++) {
    const random = seededRandom(81_000 + i);
    const scene = makeScene(random, { rows: 4, columns: 8 });
    const [own, other] = [await printCards(scene.rackId), await printCards(rackIdOf(random))];
    const cards = own.map((card, c) => (c <= i % 4 ? (other[c] as CardPicture) : card));
    const reading = await take(scene, shotOf(random, scene, 90 * (i % 4), []), cards);
    const why = 'why' in reading ? reading.why : 'read';
    said.set(why, (said.get(why) ?? 0) + 1);
  }
  say(
    `one to four cards of another rack at this one's corners: ${[...said].map(([why, n]) => `${why} ${n}`).join(', ')}`,
  );
}
