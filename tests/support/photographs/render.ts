import { createCanvas } from '@napi-rs/canvas';
import { getDocument } from 'pdfjs-dist/legacy/build/pdf.mjs';
import sharp from 'sharp';
import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import { cardsPdf, placeOf } from '../../../src/tags/rack-cards/cards-pdf.ts';
import { type Blob, type Scene, widthAt } from './scene.ts';

/** How a photograph is taken. */
export interface Shot {
  seed: number;
  /** px. */
  width: number;
  height: number;
  /** How high above the rack the camera stands, mm. */
  distance: number;
  /** Degrees from straight down, and to which side. */
  tilt: number;
  towards: number;
  /** Degrees by which the picture is turned. */
  roll: number;
  /** How far from the rack's middle the camera is held, mm to the right and to the front. */
  aside: [number, number];
  /** How much of the picture the rack fills along its longer side. */
  fill: number;
  /** Radial term of the lens at the picture's corner. */
  lens: number;
  /** How far ripples move what is seen, mm. */
  ripple: number;
  /** Red, green and blue of the light. */
  light: [number, number, number];
  /** How much darker the rack's edges are than its middle, from 0 to 1, and where the brightest place is (-1 to 1). */
  uneven: number;
  brightest: [number, number];
  /** How bright paper is, linear, from 0 to 1. */
  exposure: number;
  vignette: number;
  /** A power on linear light before it is encoded: how the camera bends its tones. */
  tone: number;
  /** Light from nowhere over all of it, linear. */
  veil: number;
  /** Standard deviations: noise in linear light at middle brightness; blur in px. */
  noise: number;
  blur: number;
  quality: number;
  /** Reflections: where (mm on the rack), how wide (mm). */
  glare: { x: number; y: number; radius: number }[];
  /** What lies on a card (0 to 3): mm on the card, and its radius. */
  covers: { card: number; x: number; y: number; radius: number }[];
  /** Cards that lie in it besides the rack's own: where their middles are, mm on the rack, and how they are turned, degrees. */
  strays: { x: number; y: number; turn: number; card: CardPicture }[];
}

/** A photograph as people take it, varied by chance within the limits that are read. */
export function usualShot(random: Random, given: Partial<Shot> = {}): Shot {
  const blue = random.uniform() ** 2;
  return {
    seed: random.below(1e9),
    width: 2400,
    height: 1800,
    distance: between(random, 600, 1400),
    tilt: between(random, 0, 14),
    towards: between(random, 0, 360),
    roll: (random.uniform() < 0.3 ? 180 : 0) + between(random, -8, 8),
    aside: [0, 0],
    fill: between(random, 0.8, 0.93),
    lens: between(random, -0.02, 0.02),
    ripple: between(random, 0, 0.4),
    light: [1 - 0.62 * blue, 1 - 0.25 * blue, 1],
    uneven: between(random, 0, 0.35),
    brightest: [between(random, -0.5, 0.5), between(random, -0.5, 0.5)],
    exposure: between(random, 0.35, 0.75),
    vignette: between(random, 0, 0.25),
    tone: between(random, 0.9, 1.1),
    veil: between(random, 0, 0.012),
    noise: between(random, 0.002, 0.008),
    blur: between(random, 0.5, 1),
    quality: 78 + random.below(18),
    glare: [],
    covers: [],
    strays: [],
    ...given,
  };
}

/**
 * A photograph at the edge of what people take: a usual one, by chance with reflections on the rack and with something small
 * on a card; as large as a rack needs at so many px a mm.
 */
export function roughShot(random: Random, scene: Scene, given: Partial<Shot> = {}): Shot {
  const [wide, deep] = [scene.columns * scene.pitchX, scene.rows * scene.pitchY];
  const shot = usualShot(random);
  const scale = between(random, 2.4, 3.4) / shot.fill;
  const longer = Math.ceil(scale * Math.max(wide + 2 * CARD_WIDTH, deep, (deep * 4) / 3));
  const spots = random.uniform() < 0.3 ? 1 + random.below(3) : 0;
  // On a margin of the card, on its text, or across its frame.
  const [x, y] = [
    [64, 46],
    [50, 47],
    [1, 40],
    [43, 20],
  ][random.below(4)] as [number, number];
  const covers =
    random.uniform() < 0.2 ? [{ card: random.below(4), x, y, radius: between(random, 1.5, 3.5) }] : [];
  return {
    ...shot,
    ...{ width: longer, height: Math.ceil(longer * 0.75), covers },
    glare: Array.from({ length: spots }, () => ({
      x: between(random, 40, wide - 40),
      y: between(random, 10, deep - 10),
      radius: between(random, 5, 18),
    })),
    ...given,
  };
}

const between = (random: Random, low: number, high: number) => low + (high - low) * random.uniform();

const decoded = Float32Array.from({ length: 256 }, (_, i) =>
  i / 255 <= 0.04045 ? i / 255 / 12.92 : ((i / 255 + 0.055) / 1.055) ** 2.4,
);
const PAPER = 0.85;
/** What printing gives back: toner is not quite black. */
const printed = (value: number) => PAPER * (0.04 + 0.96 * (decoded[value] as number));

export interface CardPicture {
  px: Float32Array;
  width: number;
  height: number;
  perMm: number;
}

const [CARD_WIDTH, CARD_HEIGHT] = [68, 50];

/** The four cards as a printer draws their page. */
export async function printCards(rackId: string): Promise<CardPicture[]> {
  const page = { pageWidthMm: 210, pageHeightMm: 297 };
  const file = await cardsPdf({
    rackId,
    name: 'Rack',
    where: 'Tank',
    base: 'https://farm.example:8443',
    page,
  });
  const perMm = 12;
  const pdf = await getDocument({ data: new Uint8Array(file), verbosity: 0 }).promise;
  const first = await pdf.getPage(1);
  const viewport = first.getViewport({ scale: (perMm * 25.4) / 72 });
  const canvas = createCanvas(Math.ceil(viewport.width), Math.ceil(viewport.height));
  const canvasContext = canvas.getContext('2d');
  canvasContext.fillStyle = 'white';
  canvasContext.fillRect(0, 0, canvas.width, canvas.height);
  await first.render({ canvasContext: canvasContext as never, canvas: null, viewport }).promise;
  return [0, 1, 2, 3].map((i) => {
    const { x, y } = placeOf(i);
    const [width, height] = [CARD_WIDTH * perMm, CARD_HEIGHT * perMm];
    const { data } = canvasContext.getImageData(Math.round(x * perMm), Math.round(y * perMm), width, height);
    const px = Float32Array.from({ length: width * height }, (_, at) => printed(data[4 * at + 1] as number));
    return { px, width, height, perMm };
  });
}

/** Paper-white linear light of a colour given as L*a*b* (D65). */
function lightOf([L, a, b]: [number, number, number]): [number, number, number] {
  const y = (L + 16) / 116;
  const back = (t: number) => (t > 6 / 29 ? t ** 3 : 3 * (6 / 29) ** 2 * (t - 4 / 29));
  const [X, Y, Z] = [0.9505 * back(y + a / 500), back(y), 1.089 * back(y - b / 200)];
  return [
    3.2406 * X - 1.5372 * Y - 0.4986 * Z,
    -0.9689 * X + 1.8758 * Y + 0.0415 * Z,
    0.0557 * X - 0.204 * Y + 1.057 * Z,
  ].map((value) => Math.max(0.004, value) * PAPER) as [number, number, number];
}

/** A number from 0 to 1 that belongs to a place. */
function grain(x: number, y: number, salt = 0): number {
  let h = (Math.floor(x) * 374761393 + Math.floor(y) * 668265263 + salt * 2147483647) | 0;
  h = Math.imul(h ^ (h >>> 13), 1274126177);
  return ((h ^ (h >>> 16)) >>> 0) / 4294967296;
}

type Rgb = [number, number, number];

/** What the base and what lies beyond it give back. */
function groundAt(scene: Scene, x: number, y: number, into: Rgb): void {
  const [wide, deep] = [scene.columns * scene.pitchX, scene.rows * scene.pitchY];
  const isRack = x > -6 && y > -6 && x < wide + 6 && y < deep + 6;
  const speck = grain(x * 1.5, y * 1.5);
  if (!isRack) {
    const value = 0.1 + 0.05 * grain(x / 9, y / 9) + 0.03 * speck;
    [into[0], into[1], into[2]] = [value * 0.75, value * 0.95, value * 1.1];
  } else if (scene.base === 'egg_crate') {
    const [right, down] = [((x % 15) + 15) % 15, ((y % 15) + 15) % 15];
    const isLine = right < 2.2 || down < 2.2;
    const value = isLine ? 0.58 + 0.05 * grain(x / 14, y / 14) : 0.05 + 0.02 * speck;
    [into[0], into[1], into[2]] = isLine
      ? [value, value * 0.99, value * 0.93]
      : [value * 0.8, value, value * 1.15];
  } else if (scene.base === 'rock') {
    const value = 0.3 + 0.05 * grain(x / 5, y / 5) + 0.03 * grain(x / 2, y / 2, 1) + 0.02 * speck;
    [into[0], into[1], into[2]] = [value, value * 0.96, value * 0.88];
  } else {
    const value = 0.48 + 0.12 * grain(x * 0.9, y * 0.9) + 0.04 * speck;
    [into[0], into[1], into[2]] = [value, value * 0.92, value * 0.76];
  }
}

const CELL = 8;

/** Heights of a part of a coral at which its width is looked at, from the lowest on. */
const LEVELS = 8;

/** A part of a coral with the square of its radius at each level. */
interface Part {
  blob: Blob;
  squares: Float64Array;
}

/** Which parts of corals may be seen through each small field of the rack's plane. */
function indexOf(scene: Scene, reach: number) {
  const fields = new Map<number, Part[]>();
  for (const blob of scene.blobs) {
    const squares = Float64Array.from(
      { length: LEVELS },
      (_, level) => (blob.radius * widthAt(blob.profile, level / (LEVELS - 1))) ** 2,
    );
    const far = blob.radius + blob.height * reach + 3;
    for (let j = Math.floor((blob.y - far) / CELL); j <= Math.floor((blob.y + far) / CELL); j++)
      for (let i = Math.floor((blob.x - far) / CELL); i <= Math.floor((blob.x + far) / CELL); i++) {
        const key = i * 4096 + j;
        const list = fields.get(key);
        if (list === undefined) fields.set(key, [{ blob, squares }]);
        else list.push({ blob, squares });
      }
  }
  return fields;
}

/** @returns the photograph as a JPEG, and its camera's focal length in px */
export async function photograph(
  scene: Scene,
  cards: readonly CardPicture[],
  shot: Shot,
): Promise<{ jpeg: Buffer; focal: number }> {
  const { light, focal } = expose(scene, cards, shot);
  blurLight(light, shot.width, shot.height, shot.blur);
  const random = seededRandom(shot.seed);
  const bytes = Buffer.alloc(light.length);
  // Normal numbers are dear: a long list of them is gone through from places of chance.
  const normals = Float32Array.from({ length: 65_536 }, () => random.normal());
  for (let i = 0; i < light.length; i++) {
    const value = light[i] as number;
    const noisy =
      value +
      shot.noise * Math.sqrt(0.1 + value) * (normals[(i * 7919 + random.below(64)) & 65_535] as number);
    const whole = Math.max(0, Math.min(1, noisy));
    const bent = shot.tone === 1 ? whole : whole ** shot.tone;
    bytes[i] = Math.round(255 * (bent <= 0.0031308 ? 12.92 * bent : 1.055 * bent ** (1 / 2.4) - 0.055));
  }
  const raw = { width: shot.width, height: shot.height, channels: 3 as const };
  return { jpeg: await sharp(bytes, { raw }).jpeg({ quality: shot.quality }).toBuffer(), focal };
}

function expose(
  scene: Scene,
  cards: readonly CardPicture[],
  shot: Shot,
): { light: Float32Array; focal: number } {
  const [wide, deep] = [scene.columns * scene.pitchX, scene.rows * scene.pitchY];
  const focal = focalOf(shot, wide + 2 * CARD_WIDTH, deep);
  const ray = cameraOf(shot, focal, wide / 2 + shot.aside[0], deep / 2 + shot.aside[1]);
  const fields = indexOf(scene, 0.9);
  const colours = scene.corals.map(({ colour }) => lightOf(colour));
  const waves = wavesOf(shot);
  const places = [...cardPlaces(scene, wide, deep), ...shot.strays.map(strayPlace)];
  const all = [...cards, ...shot.strays.map(({ card }) => card)];
  const light = new Float32Array(3 * shot.width * shot.height);
  const rgb: Rgb = [0, 0, 0];
  const half = Math.hypot(shot.width, shot.height) / 2;
  for (let py = 0; py < shot.height; py++)
    for (let px = 0; px < shot.width; px++) {
      const sight = ray(px, py);
      const [wx, wy, shine] = waves(sight.x, sight.y);
      const [x, y] = [sight.x + wx, sight.y + wy];
      seen(scene, { fields, colours, places, cards: all, shot }, x, y, sight.slopeX, sight.slopeY, rgb);
      const u = x / wide - 0.5 - shot.brightest[0] / 2;
      const v = y / deep - 0.5 - shot.brightest[1] / 2;
      const falls = (1 - shot.uneven * Math.min(1.6, 2 * (u * u + v * v))) * shine;
      const off = Math.hypot(px - shot.width / 2, py - shot.height / 2) / half;
      const bright = (shot.exposure / PAPER) * falls * (1 - shot.vignette * off * off);
      let glare = 0;
      for (const spot of shot.glare) {
        const far = ((x - spot.x) ** 2 + (y - spot.y) ** 2) / spot.radius ** 2;
        if (far < 4) glare += 1.6 * Math.exp(-far * far);
      }
      const at = 3 * (py * shot.width + px);
      for (let k = 0; k < 3; k++)
        light[at + k] = (rgb[k] as number) * bright * (shot.light[k] as number) + shot.veil + glare;
    }
  return { light, focal };
}

/** The focal length at which the rack fills so much of the picture. */
function focalOf({ width, height, distance, fill, tilt, roll }: Shot, wide: number, deep: number): number {
  const isUpright = Math.abs(Math.sin((roll * Math.PI) / 180)) < Math.SQRT1_2;
  const [right, down] = isUpright ? [width, height] : [height, width];
  return fill * distance * Math.min(right / wide, down / deep) * (1 - 0.006 * tilt);
}

/** For each px: where its ray meets the rack's plane, and how far it moves sideways for each mm it is higher. */
function cameraOf(shot: Shot, focal: number, middleX: number, middleY: number) {
  const radians = (angle: number) => (angle * Math.PI) / 180;
  const [sin, cos] = [Math.sin(radians(shot.tilt)), Math.cos(radians(shot.tilt))];
  const [sinT, cosT] = [Math.sin(radians(shot.towards)), Math.cos(radians(shot.towards))];
  const [sinR, cosR] = [Math.sin(radians(shot.roll)), Math.cos(radians(shot.roll))];
  const half = Math.hypot(shot.width, shot.height) / 2;
  // The camera stands off to one side and looks at the rack's middle.
  const eye = {
    x: middleX + shot.distance * sin * cosT,
    y: middleY + shot.distance * sin * sinT,
    z: shot.distance * cos,
  };
  return (px: number, py: number) => {
    let [u, v] = [px - shot.width / 2, py - shot.height / 2];
    const off = (u * u + v * v) / (half * half);
    [u, v] = [(u * (1 - shot.lens * off)) / focal, (v * (1 - shot.lens * off)) / focal];
    const [a, b] = [u * cosR - v * sinR, u * sinR + v * cosR];
    // In the camera's own axes, turned so that it tilts about one of them.
    const along = a * cosT + b * sinT;
    const side = -a * sinT + b * cosT;
    const [forward, down] = [along * cos - sin, -along * sin - cos];
    const [dx, dy] = [forward * cosT - side * sinT, forward * sinT + side * cosT];
    const reach = -eye.z / down;
    return { x: eye.x + dx * reach, y: eye.y + dy * reach, slopeX: dx / -down, slopeY: dy / -down };
  };
}

/** Ripples: how far what is seen at a place is moved, and how much brighter it is. */
function wavesOf(shot: Shot) {
  const random = seededRandom(shot.seed + 1);
  const waves = Array.from({ length: 4 }, () => {
    const angle = random.uniform() * 2 * Math.PI;
    const number = (2 * Math.PI) / (50 + 150 * random.uniform());
    return { x: Math.cos(angle), y: Math.sin(angle), number, phase: random.uniform() * 2 * Math.PI };
  });
  return (x: number, y: number): [number, number, number] => {
    if (shot.ripple === 0) return [0, 0, 1];
    let [dx, dy, shine] = [0, 0, 1];
    for (const wave of waves) {
      const at = wave.number * (x * wave.x + y * wave.y) + wave.phase;
      const move = (shot.ripple / Math.SQRT2) * Math.sin(at);
      dx += move * wave.x;
      dy += move * wave.y;
      shine += 0.5 * shot.ripple * wave.number * Math.cos(at);
    }
    return [dx, dy, shine];
  };
}

interface Seen {
  fields: Map<number, Part[]>;
  colours: Rgb[];
  places: { x: number; y: number; cos: number; sin: number }[];
  cards: readonly CardPicture[];
  shot: Shot;
}

const none: readonly Part[] = [];

/** Light given back along the ray that meets the plane at (x, y). */
function seen(scene: Scene, by: Seen, x: number, y: number, slopeX: number, slopeY: number, into: Rgb): void {
  let [best, bestShare, coral] = [-1, 0, -1];
  for (const { blob, squares } of by.fields.get(Math.floor(x / CELL) * 4096 + Math.floor(y / CELL)) ?? none) {
    for (let level = LEVELS - 1; level >= 0; level--) {
      const share = level / (LEVELS - 1);
      const z = blob.height * share;
      if (z <= best) break;
      const [dx, dy] = [x - slopeX * z - blob.x, y - slopeY * z - blob.y];
      if (dx * dx + dy * dy < (squares[level] as number)) {
        [best, bestShare, coral] = [z, share, blob.coral];
        break;
      }
    }
  }
  if (coral >= 0) {
    coralAt(scene, by, coral, x, y, bestShare, into);
    return;
  }
  for (let i = 0; i < by.places.length; i++) {
    const place = by.places[i] as Seen['places'][number];
    const [dx, dy] = [x - place.x, y - place.y];
    const [cx, cy] = [dx * place.cos + dy * place.sin + 34, -dx * place.sin + dy * place.cos + 25];
    if (cx < 0 || cy < 0 || cx >= CARD_WIDTH || cy >= CARD_HEIGHT) continue;
    const cover = by.shot.covers.find(
      (one) => one.card === i && (cx - one.x) ** 2 + (cy - one.y) ** 2 < one.radius ** 2,
    );
    const { px, width, perMm } = by.cards[i] as CardPicture;
    const value = px[Math.floor(cy * perMm) * width + Math.floor(cx * perMm)] as number;
    [into[0], into[1], into[2]] = cover === undefined ? [value, value, value] : [0.2, 0.12, 0.08];
    return;
  }
  groundAt(scene, x, y, into);
}

function coralAt(
  scene: Scene,
  by: Seen,
  coral: number,
  x: number,
  y: number,
  share: number,
  into: Rgb,
): void {
  const { form } = scene.corals[coral] as Scene['corals'][number];
  const pattern =
    form === 'maze'
      ? 1 + 0.12 * Math.sign(Math.sin(x * 1.6 + 2 * Math.sin(y * 0.7)))
      : form === 'honeycomb'
        ? 1 + 0.12 * Math.sign(Math.sin(x * 1.2) * Math.sin(y * 1.2))
        : 1 + 0.08 * (grain(x * 0.8, y * 0.8, coral) - 0.5);
  const shade = (0.82 + 0.18 * share) * pattern * (1 + 0.1 * (grain(x * 2, y * 2, coral) - 0.5));
  const [r, g, b] = by.colours[coral] as Rgb;
  [into[0], into[1], into[2]] = [r * shade, g * shade, b * shade];
}

/** Where the middles of the cards are, and how they are turned. */
const cardPlaces = (scene: Scene, wide: number, deep: number) =>
  scene.cards.map(({ dx, dy, turn }, i) => ({
    x: (i % 2 === 0 ? -34 : wide + 34) + dx,
    y: (i < 2 ? 25 : deep - 25) + dy,
    ...{ cos: Math.cos(turn), sin: Math.sin(turn) },
  }));

const strayPlace = ({ x, y, turn }: Shot['strays'][number]) => {
  const radians = (turn * Math.PI) / 180;
  return { x, y, cos: Math.cos(radians), sin: Math.sin(radians) };
};

/** Blurs linear light in place by a normal curve, along rows and then columns. */
function blurLight(light: Float32Array, width: number, height: number, sigma: number): void {
  const reach = Math.max(1, Math.ceil(2.5 * sigma));
  const weights = Float64Array.from({ length: 2 * reach + 1 }, (_, i) =>
    Math.exp(-((i - reach) ** 2) / (2 * sigma * sigma)),
  );
  const sum = weights.reduce((total, weight) => total + weight, 0);
  const along = (count: number, lines: number, step: number, next: number) => {
    const line = new Float32Array(count + 2 * reach);
    for (let n = 0; n < lines; n++)
      for (let k = 0; k < 3; k++) {
        // The picture's edge goes on beyond it.
        for (let i = -reach; i < count + reach; i++)
          line[i + reach] = light[n * next + Math.min(count - 1, Math.max(0, i)) * step + k] as number;
        for (let i = 0; i < count; i++) {
          let value = 0;
          for (let j = 0; j <= 2 * reach; j++) value += (weights[j] as number) * (line[i + j] as number);
          light[n * next + i * step + k] = value / sum;
        }
      }
  };
  along(width, height, 3, 3 * width);
  along(height, width, 3 * width, 3);
}
