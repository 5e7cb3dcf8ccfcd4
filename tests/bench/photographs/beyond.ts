import type { NotRead } from '../../../src/science/photograph/reading/reasons.ts';
import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import { type CardPicture, printCards, roughShot, type Shot } from '../../support/photographs/render.ts';
import { makeScene, rackIdOf, type Scene } from '../../support/photographs/scene.ts';

type Why = NotRead['why'];

/** A photograph that cannot be read, or must not be, and why. */
export interface Beyond {
  scene: Scene;
  cards: readonly CardPicture[];
  shot: Shot;
}

type Given = Partial<Shot> & { cards?: readonly CardPicture[] };

/** A kind of photograph that is not read: the one reason that is right, and what else is true of it and would help. */
interface Kind {
  name: string;
  right: Why;
  alsoTrue?: readonly Why[];
  make(random: Random, scene: Scene): Given | Promise<Given>;
}

const between = (random: Random, low: number, high: number) => low + (high - low) * random.uniform();
/** px a mm, as a rough photograph has them. */
const USUAL = 2.6;

/** How wide a picture is at so many px a mm, in which the rack fills so much. */
const sized = (scene: Scene, pxPerMm: number, fill = 0.85): Pick<Shot, 'width' | 'height' | 'fill'> => {
  const [wide, deep] = [scene.columns * scene.pitchX + 136, scene.rows * scene.pitchY];
  const width = Math.ceil((pxPerMm / fill) * Math.max(wide, (deep * 4) / 3));
  return { width, height: Math.ceil(width * 0.75), fill };
};
const onCard = (random: Random, x: number, y: number, radius: number): Partial<Shot> => ({
  covers: [{ card: random.below(4), x, y, radius }],
});
/** Where a card's place (mm on it) is on the rack. */
const atCard = (scene: Scene, card: number, x: number, y: number) => ({
  x: (card % 2 === 0 ? -68 : scene.columns * scene.pitchX) + x,
  y: (card < 2 ? 0 : scene.rows * scene.pitchY - 50) + y,
});
/** Takes a card of the rack away. */
function lose(scene: Scene, card: number): void {
  const of = scene.cards[card];
  if (of !== undefined) of.dx = 1e6;
}

/** How far a place on the rack, mm, lies beyond the picture of a camera held so far to the right and turned so, mm; below 0 within it. */
function beyond(
  scene: Scene,
  at: { x: number; y: number },
  { roll, aside, full }: { roll: number; aside: number; full: number },
): number {
  const { width, height, fill } = sized(scene, USUAL, full);
  const [wide, deep] = [scene.columns * scene.pitchX, scene.rows * scene.pitchY];
  const pxPerMm = fill * Math.min(width / (wide + 136), height / deep);
  const [sin, cos] = [Math.sin((roll * Math.PI) / 180), Math.cos((roll * Math.PI) / 180)];
  const [x, y] = [at.x - wide / 2 - aside, at.y - deep / 2];
  const [right, down] = [x * cos + y * sin, y * cos - x * sin];
  return Math.max(Math.abs(right) - width / pxPerMm / 2, Math.abs(down) - height / pxPerMm / 2);
}

/** How far to the right the camera is held so that so many cards have their middle beyond the picture. */
function untilBeyond(scene: Scene, roll: number, cards: number, full = 0.85): [number, number] {
  const isBeyond = (card: number, aside: number) =>
    beyond(scene, atCard(scene, card, 34, 25), { roll, aside, full }) > 0;
  let aside = 0;
  while ([0, 1, 2, 3].filter((card) => isBeyond(card, aside)).length < cards) aside += 2;
  return [aside, 0];
}

/** The camera turned and held so that one card has its middle beyond the picture, and the other three are wholly within. */
function oneBeyond(
  scene: Scene,
  side: 1 | -1,
): { roll: number; aside: [number, number] } & ReturnType<typeof sized> {
  const full = 0.62;
  const isWhole = (card: number, roll: number, aside: number) =>
    [
      [0, 0],
      [68, 0],
      [68, 50],
      [0, 50],
    ].every(([x = 0, y = 0]) => beyond(scene, atCard(scene, card, x, y), { roll, aside, full }) < -4);
  for (let roll = 8; roll < 40; roll++) {
    const aside = untilBeyond(scene, side * roll, 1, full);
    if ([0, 1, 2, 3].filter((card) => isWhole(card, side * roll, aside[0])).length === 3)
      return { roll: side * roll, aside, ...sized(scene, USUAL, full) };
  }
  throw new Error('no picture of this rack has one card alone beyond it');
}

export const kinds: readonly Kind[] = [
  {
    name: 'blurred',
    right: 'blurred',
    alsoTrue: ['unread'],
    make: (random) => ({ blur: USUAL * between(random, 1, 2.2) }),
  },
  {
    name: 'tilted',
    right: 'tilted',
    make: (random, scene) => ({
      ...sized(scene, 1.35 * USUAL),
      ...{ tilt: between(random, 31, 45), distance: between(random, 800, 1400), fill: 0.72 },
    }),
  },
  { name: 'waves', right: 'waves', make: (random) => ({ ripple: between(random, 3.5, 7) }) },
  {
    name: 'dark',
    right: 'dark',
    make: (random) => ({ exposure: between(random, 0.008, 0.03), noise: 0.004, veil: 0.001 }),
  },
  {
    name: 'blue',
    right: 'blue',
    make: (random) => ({ light: [between(random, 0.02, 0.06), between(random, 0.2, 0.4), 1], exposure: 0.7 }),
  },
  {
    name: 'small: 1.2 to 1.55 px a mm',
    right: 'small',
    make: (random, scene) => sized(scene, between(random, 1.2, 1.55)),
  },
  {
    name: 'far too small for any code',
    right: 'small',
    alsoTrue: ['no cards'],
    make: (random, scene) => sized(scene, between(random, 0.6, 0.9)),
  },
  { name: 'too bright', right: 'bright', make: (random) => ({ exposure: between(random, 1.3, 2) }) },
  {
    name: 'code covered',
    right: 'covered',
    alsoTrue: ['unread'],
    make: (random) => onCard(random, between(random, 15, 28), between(random, 15, 28), 14),
  },
  {
    name: 'frame covered',
    right: 'covered',
    alsoTrue: ['unread'],
    make: (random) => onCard(random, 1, between(random, 10, 34), between(random, 9, 12)),
  },
  {
    name: 'white covered',
    right: 'covered',
    make: (random) => onCard(random, between(random, 54, 62), 7, between(random, 6, 8)),
  },
  {
    name: 'glare on a card',
    right: 'glare',
    alsoTrue: ['unread'],
    make: (random, scene) => ({
      glare: [
        {
          ...atCard(scene, random.below(4), between(random, 15, 56), between(random, 10, 30)),
          radius: between(random, 13, 20),
        },
      ],
    }),
  },
  {
    name: 'strong lens',
    right: 'lens',
    make: (random, scene) => {
      // One that draws outwards would draw the cards out of the picture.
      const isOutwards = random.uniform() < 0.5;
      const lens = (isOutwards ? 1 : -1) * between(random, 0.22, 0.36);
      return { lens, ...(isOutwards ? { ...sized(scene, 1.2 * USUAL), fill: 0.7 } : {}) };
    },
  },
  {
    name: 'a card not there',
    right: 'missing',
    make: (random, scene) => {
      lose(scene, random.below(4));
      return {};
    },
  },
  {
    name: 'a card beyond the picture',
    right: 'outside',
    alsoTrue: ['missing'],
    make: (random, scene) => {
      // A deep rack: turned, its two cards of one side lie apart.
      const deep = makeScene(random, { rackId: scene.rackId, rows: 7, columns: 6 });
      Object.assign(scene, deep);
      return { ...oneBeyond(scene, random.uniform() < 0.5 ? -1 : 1), tilt: between(random, 0, 3) };
    },
  },
  {
    name: 'two cards beyond the picture',
    right: 'outside',
    alsoTrue: ['missing'],
    make: (random, scene) => ({ roll: 0, aside: untilBeyond(scene, 0, 2), tilt: between(random, 0, 3) }),
  },
  {
    name: 'a card fixed askew',
    right: 'askew',
    make: (random, scene) => {
      const card = scene.cards[random.below(4)];
      if (card !== undefined)
        Object.assign(card, { dx: 0, dy: between(random, 18, 30), turn: between(random, 0.1, 0.3) });
      return {};
    },
  },
  {
    name: 'two cards changed about',
    right: 'swapped',
    alsoTrue: ['askew'],
    make: async (random, scene) => {
      const cards = await printCards(scene.rackId);
      const [one, other] = [
        [0, 1],
        [0, 2],
        [1, 3],
        [2, 3],
        [0, 3],
      ][random.below(5)] as [number, number];
      [cards[one], cards[other]] = [cards[other] as CardPicture, cards[one] as CardPicture];
      return { cards };
    },
  },
  {
    name: 'another rack’s card at a corner',
    right: 'mixed',
    alsoTrue: ['missing'],
    make: async (random, scene) => {
      const cards = await printCards(scene.rackId);
      const card = random.below(4);
      cards[card] = (await printCards(rackIdOf(random)))[card] as CardPicture;
      return { cards };
    },
  },
  {
    name: 'another rack',
    right: 'other rack',
    make: async (random) => ({ cards: await printCards(rackIdOf(random)) }),
  },
  {
    name: 'the same card twice',
    right: 'twice',
    make: async (random, scene) => {
      const cards = await printCards(scene.rackId);
      const number = random.below(4);
      // Beside the rack, where it covers no other card.
      const { x, y } = atCard(scene, number, number % 2 === 0 ? -40 : 108, 25);
      const strays = [{ x, y, turn: 0, card: cards[number] as CardPicture }];
      return { ...sized(scene, USUAL, 0.62), cards, strays };
    },
  },
];

/** One photograph of a kind, by a seed. */
export async function makeBeyond(kind: Kind, seed: number): Promise<Beyond> {
  const random = seededRandom(seed);
  const scene = makeScene(random, { rows: 4 + random.below(2), columns: 7 + random.below(3) });
  const { cards, ...given } = await kind.make(random, scene);
  const usual = { tilt: between(random, 0, 8), covers: [], glare: [], ...sized(scene, USUAL) };
  return {
    ...{ scene, cards: cards ?? (await printCards(scene.rackId)) },
    shot: roughShot(random, scene, { ...usual, ...given }),
  };
}
