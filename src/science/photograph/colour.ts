/** CIE 1976 L*a*b*, against a given white. */
export interface Lab {
  L: number;
  a: number;
  b: number;
}

/** Linear light of a value of sRGB, both from 0 to 1 (IEC 61966-2-1). */
export const linearOf = (value: number): number =>
  value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;

/** The value of sRGB for linear light, both from 0 to 1 (IEC 61966-2-1). */
export const encodedOf = (linear: number): number =>
  linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055;

/** f of CIE 15: a cube root with a straight foot. */
const bent = (t: number): number => (t > 216 / 24389 ? Math.cbrt(t) : ((24389 / 27) * t + 16) / 116);

/** The same by a table of its steps, straight between: off by less than 1e-4 up to twice the white. */
const STEPS = 4096;
const bends = Float64Array.from({ length: 2 * STEPS + 2 }, (_, i) => bent(i / STEPS));
function quicklyBent(t: number): number {
  const at = t * STEPS;
  const below = at | 0;
  const low = bends[below];
  const high = bends[below + 1];
  return low === undefined || high === undefined ? bent(t) : low + (high - low) * (at - below);
}

/**
 * L*a*b* of linear sRGB whose white is (1, 1, 1), under D65 (IEC 61966-2-1 for the primaries, CIE 15 for the space).
 * Light below 0 counts as none.
 */
export const labOf = (r: number, g: number, b: number): Lab => labBy(bent, r, g, b);

/** As `labOf`, for whole pictures: by a table, off by less than 0.003 up to twice the white. */
export const quickLabOf = (r: number, g: number, b: number): Lab => labBy(quicklyBent, r, g, b);

function labBy(f: (t: number) => number, r: number, g: number, b: number): Lab {
  const [red, green, blue] = [Math.max(0, r), Math.max(0, g), Math.max(0, b)];
  // Each row divided by its sum: the white of the primaries is then exactly the white of the space.
  const x = f((0.4124 * red + 0.3576 * green + 0.1805 * blue) / 0.9505);
  const y = f(0.2126 * red + 0.7152 * green + 0.0722 * blue);
  const z = f((0.0193 * red + 0.1192 * green + 0.9505 * blue) / 1.089);
  return { L: 116 * y - 16, a: 500 * (x - y), b: 200 * (y - z) };
}

const degrees = (radians: number) => (radians * 180) / Math.PI;
const radians = (angle: number) => (angle * Math.PI) / 180;

/** Hue angle, degrees from 0; 0 where there is no colour. */
const hueOf = (a: number, b: number) => (a === 0 && b === 0 ? 0 : (degrees(Math.atan2(b, a)) + 360) % 360);

/** How different two colours look, CIEDE2000 with its usual weights (Sharma, Wu and Dalal 2005). */
export function ciede2000(one: Lab, other: Lab): number {
  const meanChroma = (Math.hypot(one.a, one.b) + Math.hypot(other.a, other.b)) / 2;
  const stretch = 1 + 0.5 * (1 - Math.sqrt(meanChroma ** 7 / (meanChroma ** 7 + 25 ** 7)));
  const [a1, a2] = [one.a * stretch, other.a * stretch];
  const [c1, c2] = [Math.hypot(a1, one.b), Math.hypot(a2, other.b)];
  const [h1, h2] = [hueOf(a1, one.b), hueOf(a2, other.b)];
  const isGrey = c1 * c2 === 0;
  const turn = h2 - h1;
  const short = isGrey ? 0 : turn > 180 ? turn - 360 : turn < -180 ? turn + 360 : turn;
  const L = (one.L + other.L) / 2;
  const c = (c1 + c2) / 2;
  const around = h1 + h2;
  const h = isGrey ? around : Math.abs(turn) <= 180 ? around / 2 : (around + (around < 360 ? 360 : -360)) / 2;
  const t =
    1 -
    0.17 * Math.cos(radians(h - 30)) +
    0.24 * Math.cos(radians(2 * h)) +
    0.32 * Math.cos(radians(3 * h + 6)) -
    0.2 * Math.cos(radians(4 * h - 63));
  const lightness = (other.L - one.L) / (1 + (0.015 * (L - 50) ** 2) / Math.sqrt(20 + (L - 50) ** 2));
  const chroma = (c2 - c1) / (1 + 0.045 * c);
  const hue = (2 * Math.sqrt(c1 * c2) * Math.sin(radians(short / 2))) / (1 + 0.015 * c * t);
  const bend =
    -Math.sin(radians(60 * Math.exp(-(((h - 275) / 25) ** 2)))) * 2 * Math.sqrt(c ** 7 / (c ** 7 + 25 ** 7));
  return Math.sqrt(lightness ** 2 + chroma ** 2 + hue ** 2 + bend * chroma * hue);
}
