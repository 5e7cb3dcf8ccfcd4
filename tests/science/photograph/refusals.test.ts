import sharp from 'sharp';
import { beforeAll, expect, test } from 'vitest';
import type { Picture } from '../../../src/science/photograph/image.ts';
import { readRack } from '../../../src/science/photograph/reading/read.ts';
import type { NotRead } from '../../../src/science/photograph/reading/reasons.ts';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { findCodes } from '../../../src/stock/rack-photographs/codes.ts';
import { notReadWords } from '../../../src/stock/rack-photographs/reading.words.ts';
import {
  type CardPicture,
  photograph,
  printCards,
  type Shot,
  usualShot,
} from '../../support/photographs/render.ts';
import { makeScene, rackIdOf } from '../../support/photographs/scene.ts';

/** A rack of three rows of three, drawn by the tests' own renderer, and photographs of it with one thing wrong. */
const random = seededRandom(71);
const scene = makeScene(random, { rows: 4, columns: 3, base: 'rock' });
const [WIDE, DEEP] = [3 * scene.pitchX, 4 * scene.pitchY];
const well: Partial<Shot> = {
  ...{ width: 760, height: 570, tilt: 0, roll: 0, distance: 900, fill: 0.86, lens: 0, ripple: 0.1 },
  ...{ light: [0.9, 0.95, 1], uneven: 0.1, exposure: 0.6, tone: 1, vignette: 0, blur: 0.6, noise: 0.003 },
};
let cards: readonly CardPicture[];
let other: readonly CardPicture[];

beforeAll(async () => {
  cards = await printCards(scene.rackId);
  other = await printCards(rackIdOf(random));
});

async function said(
  given: Partial<Shot>,
  change: (jpeg: Buffer) => Promise<Buffer> | Buffer = (jpeg) => jpeg,
  printed = cards,
): Promise<NotRead | 'read'> {
  const { jpeg, focal } = await photograph(scene, printed, usualShot(seededRandom(5), { ...well, ...given }));
  const { data, info } = await sharp(await change(jpeg))
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const picture: Picture = { width: info.width, height: info.height, rgb: data };
  const { rackId: id, rows, columns } = scene;
  const reading = readRack(picture, await findCodes(picture), { id, rows, columns, lots: [] }, focal);
  return 'why' in reading ? reading : 'read';
}

const why = (reading: NotRead | 'read') => (reading === 'read' ? reading : reading.why);

test('a good photograph is read', async () => {
  expect(await said({})).toBe('read');
});

test.each<[string, Partial<Shot>, NotRead['why']]>([
  ['from the side', { tilt: 38, fill: 0.7, width: 1000, height: 750 }, 'tilted'],
  ['with a lens that draws inwards', { lens: -0.3 }, 'lens'],
  ['with a lens that draws outwards', { lens: 0.28, fill: 0.72, width: 900, height: 675 }, 'lens'],
  ['too bright at one side', { exposure: 1.15, uneven: 0.35, brightest: [-1, 0] }, 'bright'],
  ['too bright in coloured light', { exposure: 1.2, light: [0.55, 0.8, 1] }, 'bright'],
  ['through moving water', { ripple: 5 }, 'waves'],
  ['out of focus', { blur: 4 }, 'blurred'],
  ['in the dark', { exposure: 0.02 }, 'dark'],
  ['under blue light', { light: [0.04, 0.3, 1] }, 'blue'],
  ['far too bright', { exposure: 1.6 }, 'bright'],
  ['from too far away', { width: 400, height: 300 }, 'small'],
])('a photograph taken %s says so', async (_, given, expected) => {
  expect(why(await said(given))).toBe(expected);
});

test.each<[string, Partial<Shot>, NotRead]>([
  [
    'something lies on a code',
    { covers: [{ card: 1, x: 22, y: 22, radius: 14 }] },
    { why: 'covered', corners: ['back-right'] },
  ],
  [
    'something lies on a white patch',
    { covers: [{ card: 3, x: 58, y: 8, radius: 7 }] },
    { why: 'covered', corners: ['front-right'] },
  ],
  [
    'a card is under a reflection',
    { glare: [{ x: -40, y: DEEP - 25, radius: 16 }] },
    { why: 'glare', corners: ['front-left'] },
  ],
  [
    'a card reaches beyond the picture',
    { aside: [33, 0], roll: 13, fill: 0.84 },
    { why: 'outside', corners: ['back-left'] },
  ],
])('where %s, that card is named', async (_, given, expected) => {
  expect(await said(given)).toEqual(expected);
});

test('a card that is not there is missing, and one of another rack in its place is told from that', async () => {
  const gone = { ...scene, cards: scene.cards.map((card, i) => (i === 2 ? { ...card, dx: 1e6 } : card)) };
  const { jpeg } = await photograph(gone, cards, usualShot(seededRandom(5), well));
  expect(await said({}, () => jpeg)).toEqual({ why: 'missing', corners: ['front-left'] });
  const mixed = cards.map((card, i) => (i === 2 ? (other[2] as CardPicture) : card));
  expect(await said({}, undefined, mixed)).toEqual({ why: 'mixed', corners: ['front-left'] });
});

test('cards that lie at each other’s corners are named, and the same card twice is', async () => {
  const [a, b, c, d] = cards as [CardPicture, CardPicture, CardPicture, CardPicture];
  expect(await said({}, undefined, [b, a, c, d])).toEqual({
    why: 'swapped',
    corners: ['back-left', 'back-right'],
  });
  expect(await said({}, undefined, [a, b, c, c])).toEqual({ why: 'twice', corners: ['front-left'] });
});

test('another rack whose cards are in the picture too is left alone, and alone it is refused', async () => {
  const strays = other.map((card, i) => ({
    x: i % 2 === 0 ? -34 : WIDE + 34,
    y: (i < 2 ? 25 : DEEP - 25) + DEEP + 12,
    ...{ turn: 0, card },
  }));
  expect(await said({ strays, width: 1300, height: 975, fill: 0.5 })).toBe('read');
  expect(why(await said({}, undefined, other))).toBe('other rack');
});

test('each reason is said in words that tell what to do', () => {
  for (const reason of [
    'dark',
    'blue',
    'bright',
    'lens',
    'waves',
    'tilted',
    'small',
    'askew',
    'patches',
  ] as const)
    expect(notReadWords({ why: reason })).toMatch(/\. [A-Z]/);
  for (const reason of ['outside', 'covered', 'glare', 'missing', 'swapped', 'mixed', 'twice'] as const)
    expect(notReadWords({ why: reason, corners: ['back-left'] })).toContain('back left');
});
