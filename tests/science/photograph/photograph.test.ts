import { describe, expect, it, test } from 'vitest';
import type { Corner, Point } from '../../../src/science/photograph/card.ts';
import { CORNERS, cardOf, cardPath, cardPlace, frameCorners } from '../../../src/science/photograph/card.ts';
import { ciede2000, encodedOf, labOf, linearOf, quickLabOf } from '../../../src/science/photograph/colour.ts';
import { readCameraNotes } from '../../../src/science/photograph/exif.ts';
import { cameraPlace, planarArea } from '../../../src/science/photograph/height.ts';
import { fitHomography, inverseOf, project } from '../../../src/science/photograph/homography.ts';
import { toneOf } from '../../../src/science/photograph/patches.ts';
import { fitPlane } from '../../../src/science/photograph/plane.ts';
import { readRack } from '../../../src/science/photograph/reading/read.ts';
import { borderOf, fillHoles, regionsOf, simplified } from '../../../src/science/photograph/regions.ts';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const pairs = published('how different two colours look', 'Sharma, Wu & Dalal 2005, table 1', {
  absolute: 0.0001,
});

describe('colours', () => {
  it('differ as the 34 published pairs do, both ways round', () => {
    const rows = referenceTable('ciede2000_sharma_2005');
    expect(rows).toHaveLength(34);
    for (const row of rows) {
      const lab = (n: number) => ({ L: num(row, `L${n}`), a: num(row, `a${n}`), b: num(row, `b${n}`) });
      // Printed to four digits.
      pairs.check(ciede2000(lab(1), lab(2)), num(row, 'dE00'));
      pairs.check(ciede2000(lab(2), lab(1)), num(row, 'dE00'));
    }
  });

  // sRGB by IEC 61966-2-1, L*a*b* by CIE 15 under D65: values as printed in many tables (from memory).
  it.each([
    ['white', [255, 255, 255], [100, 0, 0]],
    ['half', [128, 128, 128], [53.585, 0, 0]],
    ['red', [255, 0, 0], [53.24, 80.09, 67.2]],
    ['green', [0, 255, 0], [87.73, -86.18, 83.18]],
    ['blue', [0, 0, 255], [32.3, 79.19, -107.86]],
  ])('of sRGB are those of the tables: %s', (_, rgb, [L, a, b]) => {
    const [r = 0, g = 0, blue = 0] = rgb.map((value) => linearOf(value / 255));
    const lab = labOf(r, g, blue);
    for (const [value, expected] of [
      [lab.L, L],
      [lab.a, a],
      [lab.b, b],
    ] as const)
      expect(Math.abs(value - Number(expected))).toBeLessThan(0.06);
    for (const value of [0, 0.002, 0.04, 0.5, 1]) expect(encodedOf(linearOf(value))).toBeCloseTo(value, 9);
  });
});

test('colours of whole pictures are within 0.003 of the exact ones, over all of sRGB and up to twice the white', () => {
  // All of a grid of light, dense where the curve is steep, and places of chance between.
  const steps = Array.from({ length: 23 }, (_, i) => 2 * (i / 22) ** 3);
  const random = seededRandom(8);
  const some = Array.from({ length: 4_000 }, () => [0, 1, 2].map(() => 2 * random.uniform() ** 3));
  const grid = steps.flatMap((r) => steps.flatMap((g) => steps.map((b) => [r, g, b])));
  let most = 0;
  for (const [r = 0, g = 0, b = 0] of [...grid, ...some]) {
    const [quick, exact] = [quickLabOf(r, g, b), labOf(r, g, b)];
    most = Math.max(
      most,
      Math.abs(quick.L - exact.L),
      Math.abs(quick.a - exact.a),
      Math.abs(quick.b - exact.b),
    );
  }
  // The greatest over a grid of 91 steps a colour is 0.0021, of a* in deep shade.
  expect(most).toBeLessThan(0.003);
});

describe('a plane in a picture', () => {
  it('is found again from four points as Heckbert 1989 works it out, and there and back is nothing', () => {
    // The unit square onto a quadrilateral, in closed form (Heckbert 1989, Fundamentals of Texture Mapping, p. 19).
    const square = [0, 1].flatMap((y) => [0, 1].map((x) => ({ x, y })));
    const [p, q, s, r] = [
      { x: 10, y: 20 },
      { x: 200, y: 40 },
      { x: 30, y: 170 },
      { x: 180, y: 230 },
    ] as [Point, Point, Point, Point];
    const [dx1, dx2, sx] = [q.x - r.x, s.x - r.x, p.x - q.x + r.x - s.x];
    const [dy1, dy2, sy] = [q.y - r.y, s.y - r.y, p.y - q.y + r.y - s.y];
    const det = dx1 * dy2 - dx2 * dy1;
    const [g, h] = [(sx * dy2 - dx2 * sy) / det, (dx1 * sy - sx * dy1) / det];
    const closed = [
      q.x - p.x + g * q.x,
      s.x - p.x + h * s.x,
      p.x,
      q.y - p.y + g * q.y,
      s.y - p.y + h * s.y,
      p.y,
      g,
      h,
      1,
    ];
    const fitted = fitHomography(square, [p, q, s, r]);
    for (const [i, value] of closed.entries()) expect(fitted[i]).toBeCloseTo(value, 6);
    const back = project(inverseOf(fitted), project(fitted, { x: 0.3, y: 0.8 }));
    expect([back.x, back.y]).toEqual([expect.closeTo(0.3, 9), expect.closeTo(0.8, 9)]);
  });

  it('gives the rack’s size, the lens, the tilt and the camera’s place by the 16 corners alone', () => {
    const random = seededRandom(5);
    const size = { width: 420, depth: 260 };
    const picture = { width: 4000, height: 3000 };
    // A pinhole worked out apart: 900 mm above, 150 mm off to the right of the middle, looking straight down but for 8 degrees.
    const tilt = (8 * Math.PI) / 180;
    const focal = 3400;
    const eye = { x: 360, y: 130, z: 900 };
    const seen = ({ x, y }: Point): Point => {
      const [right, down, deep] = [x - eye.x, y - eye.y, eye.z];
      const turned = [
        right * Math.cos(tilt) + deep * Math.sin(tilt),
        down,
        deep * Math.cos(tilt) - right * Math.sin(tilt),
      ];
      const [u, v] = [
        (focal * Number(turned[0])) / Number(turned[2]),
        (focal * Number(turned[1])) / Number(turned[2]),
      ];
      const grown = 1 + (0.015 * (u * u + v * v)) / 2500 ** 2;
      return { x: 2000 + u * grown + random.normal() * 0.15, y: 1500 + v * grown + random.normal() * 0.15 };
    };
    const cornersOf = (corner: Corner) => {
      const { x, y } = cardPlace(corner, size);
      return frameCorners(1).map((point) => seen({ x: point.x + x, y: point.y + y }));
    };
    const found = {
      'back-left': cornersOf('back-left'),
      'back-right': cornersOf('back-right'),
      'front-left': cornersOf('front-left'),
      'front-right': cornersOf('front-right'),
    };
    const plane = fitPlane(found, picture);
    expect(Math.abs(plane.width - 420)).toBeLessThan(2);
    expect(Math.abs(plane.depth - 260)).toBeLessThan(2);
    expect(Math.abs(plane.bend - 0.015)).toBeLessThan(0.006);
    expect(plane.residual).toBeLessThan(0.15);
    const camera = cameraPlace(plane, picture, focal);
    expect(Math.abs(camera.height - 900)).toBeLessThan(25);
    expect(Math.abs(camera.x - 360)).toBeLessThan(25);
    expect(Math.abs(camera.y - 130)).toBeLessThan(25);
  });
});

test('the plane of a long, shallow rack is found whichever way it is turned', () => {
  // A drawn rack of 747 x 206 mm, turned by 172 degrees: its corners to whole px.
  const found = {
    'back-left': [2646, 1538, 2534, 1522, 2559, 1416, 2673, 1433],
    'back-right': [463, 1216, 365, 1202, 366, 1101, 465, 1115],
    'front-left': [2749, 1114, 2630, 1100, 2656, 985, 2775, 1000],
    'front-right': [474, 808, 372, 796, 373, 687, 478, 699],
  };
  const of = (corner: Corner) =>
    [0, 2, 4, 6].map((i) => ({ x: found[corner][i] ?? 0, y: found[corner][i + 1] ?? 0 }));
  const corners = {
    'back-left': of('back-left'),
    'back-right': of('back-right'),
    'front-left': of('front-left'),
    'front-right': of('front-right'),
  };
  const plane = fitPlane(corners, { width: 2932, height: 2199 });
  expect(Math.abs(plane.width - 747)).toBeLessThan(7);
  expect(Math.abs(plane.depth - 206)).toBeLessThan(3);
  expect(plane.residual).toBeLessThan(0.5);
  const { 'front-right': _, ...three } = corners;
  expect(Math.abs(fitPlane(three, { width: 2932, height: 2199 }).width - 747)).toBeLessThan(12);
});

describe('what stands high', () => {
  const flat = { low: 0, high: 0 };
  it('looks larger, and is made smaller by as much where the camera’s place is known', () => {
    const seen = { area: 400, uncertainty: 0, middle: { x: 100, y: 0 } };
    expect(planarArea(seen, flat, { x: 100, y: 0, height: 800 }).area).toBe(400);
    // Straight below, a pillar as high as it is wide (22.6 mm) is seen at its top: (1 + 22.6 / 800)^2, near 1 + 2 x 22.6 / 800.
    const below = planarArea(seen, { low: 1, high: 1 }, { x: 100, y: 0, height: 800 });
    expect(400 / below.low).toBeCloseTo(1.056, 2);
    const unknown = planarArea(seen, { low: 0, high: 1 }, null);
    expect([unknown.area, unknown.high]).toEqual([400, 400]);
    expect(unknown.low).toBeLessThan(260);
  });
});

describe('parts of a mask', () => {
  const mask = (rows: string[]) => ({
    width: rows[0]?.length ?? 0,
    height: rows.length,
    on: Uint8Array.from([...rows.join('')].map((sign) => (sign === '#' ? 1 : 0))),
  });
  it('are told apart, their holes filled, and their border runs along their px', () => {
    const drawn = mask(['........', '.####.#.', '.#..#...', '.####...', '........']);
    expect(regionsOf(drawn, 1, 1).map(({ px }) => px.length)).toEqual([10, 1]);
    expect(fillHoles(drawn, 4)).toBe(2);
    const border = borderOf(drawn, regionsOf(drawn, 1, 2)[0]?.px[0] ?? -1);
    expect(border).toHaveLength(14);
    const area = border.reduce((sum, { x, y }, i) => {
      const next = border[(i + 1) % border.length] as Point;
      return sum + x * next.y - next.x * y;
    }, 0);
    expect(Math.abs(area) / 2).toBe(12);
    expect(simplified([...border, border[0] as Point], 0.5)).toHaveLength(5);
  });
});

test('a card’s code names its rack and corner under any address, and nothing else is one', () => {
  const rackId = '0193a7c2-1111-7abc-8def-123456789abc';
  for (const corner of CORNERS)
    expect(cardOf(`HTTPS://AN.EARLIER.ADDRESS${cardPath(rackId, corner)}`)).toEqual({ rackId, corner });
  for (const text of [
    '',
    `/racks/${rackId}`,
    '/C/1/1',
    `${cardPath(rackId, 'back-left')}1`,
    `/C/${'Z'.repeat(25)}/1`,
  ])
    expect(cardOf(text)).toBeNull();
});

test('where no code is found, a picture that is dark, blue or blurred says so, and a good one without cards does not', () => {
  // Squares of black and white; a square's edge runs over so many px.
  const [width, height] = [480, 360];
  const squares = (edge: number, [r, g, b]: readonly [number, number, number]) => {
    const wave = (at: number) => Math.min(1, Math.max(0, 0.5 + (Math.abs((at % 48) - 24) - 12) / edge));
    const rgb = new Uint8Array(3 * width * height);
    for (let y = 0; y < height; y++)
      for (let x = 0; x < width; x++) {
        const bright = (wave(x) + wave(y)) / 2;
        rgb.set([r * bright, g * bright, b * bright], 3 * (y * width + x));
      }
    return { width, height, rgb };
  };
  const rack = { id: '0193a7c2-1111-7abc-8def-123456789abc', rows: 1, columns: 1, lots: [] };
  const why = (edge: number, light: readonly [number, number, number]) =>
    readRack(squares(edge, light), [], rack);
  expect(why(1, [230, 230, 230])).toEqual({ why: 'no cards' });
  expect(why(1, [40, 40, 40])).toEqual({ why: 'dark' });
  expect(why(1, [30, 120, 230])).toEqual({ why: 'blue' });
  expect(why(12, [230, 230, 230])).toEqual({ why: 'blurred' });
});

test('a camera that bends its tones is bent back by the grey, and patches out of order tell nothing', () => {
  const patch = (value: number) => ({ light: [value, value, value] as const, spread: 0, clipped: 0 });
  const card = (power: number) => ({
    white: patch(0.6 ** power),
    grey: patch((0.6 * (0.04 + 0.96 * 0.214)) ** power),
    black: patch((0.6 * 0.04) ** power),
  });
  for (const power of [0.8, 1, 1.2]) expect(toneOf([card(power)])).toBeCloseTo(1 / power, 6);
  expect(toneOf([{ ...card(1), grey: patch(0.9) }])).toBeNaN();
});

test('a camera’s notes tell time and lens, and damaged ones nothing', () => {
  // As Exif 3.0 lays them out, big-endian, written by hand: one outer entry, then three inner ones.
  const view = new DataView(new ArrayBuffer(120));
  const entry = (at: number, tag: number, type: number, count: number, value: number) => {
    view.setUint16(at, tag);
    view.setUint16(at + 2, type);
    view.setUint32(at + 4, count);
    if (type === 3) view.setUint16(at + 8, value);
    else view.setUint32(at + 8, value);
  };
  view.setUint32(0, 0x4d4d002a);
  view.setUint32(4, 8);
  view.setUint16(8, 1);
  entry(10, 0x8769, 4, 1, 26);
  view.setUint16(26, 3);
  entry(28, 0x9003, 2, 20, 70);
  entry(40, 0x9011, 2, 7, 92);
  entry(52, 0xa405, 3, 1, 28);
  const write = (at: number, text: string) => {
    for (const [i, sign] of [...text].entries()) view.setUint8(at + i, sign.charCodeAt(0));
  };
  write(70, '2026:11:24 07:30:00');
  write(92, '+01:00');
  const bytes = new Uint8Array(view.buffer);
  expect(readCameraNotes(bytes)).toEqual({
    takenAt: { local: '2026-11-24T07:30:00', offset: '+01:00' },
    focal35: 28,
  });
  const nothing = { takenAt: null, focal35: null };
  expect(readCameraNotes(undefined)).toEqual(nothing);
  expect(readCameraNotes(bytes.subarray(0, 30))).toEqual(nothing);
  expect(readCameraNotes(new Uint8Array(4))).toEqual(nothing);
});
