import sharp from 'sharp';
import { expect, test } from 'vitest';
import { cardOf } from '../../../src/science/photograph/card.ts';
import type { Picture } from '../../../src/science/photograph/image.ts';
import { readRack } from '../../../src/science/photograph/reading/read.ts';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { findCodes } from '../../../src/stock/rack-photographs/codes.ts';
import { type CardPicture, photograph, printCards, usualShot } from '../../support/photographs/render.ts';
import { makeScene, rackIdOf } from '../../support/photographs/scene.ts';

// Two racks in one picture, at two px to a square of a code and softer than codes are found by themselves.
test('codes too soft to be found by themselves are read square by square, each at its own rack and corner', async () => {
  const random = seededRandom(17);
  const scene = makeScene(random, { rows: 4, columns: 3, base: 'egg_crate' });
  const other = rackIdOf(random);
  const [wide, deep] = [3 * scene.pitchX, 4 * scene.pitchY];
  const strays = (await printCards(other)).map((card: CardPicture, i) => ({
    x: i % 2 === 0 ? -34 : wide + 34,
    y: deep + 12 + (i < 2 ? 25 : 85),
    ...{ turn: 0, card },
  }));
  const shot = usualShot(random, {
    ...{
      width: 1240,
      height: 930,
      tilt: 3,
      roll: 1,
      fill: 0.46,
      ripple: 0.3,
      lens: 0,
      distance: 900,
      aside: [0, 55],
    },
    ...{ light: [0.5, 0.8, 1], exposure: 0.4, blur: 0.95, noise: 0.007, quality: 80, tone: 1 },
    strays,
  });
  const { jpeg, focal } = await photograph(scene, await printCards(scene.rackId), shot);
  const { data, info } = await sharp(jpeg).removeAlpha().raw().toBuffer({ resolveWithObject: true });
  const picture: Picture = { width: info.width, height: info.height, rgb: data };
  const codes = await findCodes(picture);
  const racks = codes.flatMap(({ text }) => cardOf(text)?.rackId ?? []).sort();
  expect(racks).toEqual([...Array(4).fill(scene.rackId), ...Array(4).fill(other)].sort());
  const { rackId: id, rows, columns } = scene;
  const reading = readRack(picture, codes, { id, rows, columns, lots: [] }, focal);
  if ('why' in reading) throw new Error(reading.why);
  expect(Math.abs(reading.plane.width - wide)).toBeLessThan(3);
  expect(Math.abs(reading.plane.depth - deep)).toBeLessThan(3);
});
