import { px } from '../../platform/charts/markup.ts';
import { plural } from '../../platform/words/numbers.ts';
import { LIGHT_STEPS, lightTone } from '../../racks/drawing/light-tones.rules.ts';
import type { TagRecord } from '../record/record.ts';
import { isEstimate, spreadWords } from '../record/record-words.ts';
import { places } from './plan.rules.ts';

/** Width of the picture, px. */
const width = 280;
/** The ends of the scale, PAR: below and above them corals are rarely kept (common practice). */
const [from, to] = [20, 500];
/** The x of a PAR. The scale is logarithmic: twice as bright is the same distance everywhere. */
const across = (par: number) =>
  px(8 + ((width - 16) * Math.log(Math.min(to, Math.max(from, par)) / from)) / Math.log(to / from));

const marks = [25, 50, 100, 200, 400];

/**
 * A small picture of the light pieces lived in: a scale of PAR with what the kind is kept at as a band, the span of
 * the last 90 days as a line and the light now as a mark. '' when it was never measured.
 */
export function lightPicture({ light, care }: TagRecord): string {
  if (light === null) return '';
  const span = light.spans.at(-1);
  const [low, high] = span === undefined ? [light.par, light.par] : [span.parLow, span.parHigh];
  const lived = span === undefined ? '' : `, lived between ${low} and ${high}`;
  const title = `Light on a scale from dim to bright: it is at ${light.par}${lived}${
    care.parLow === null || care.parHigh === null
      ? ''
      : `; its kind is kept at ${care.parLow} to ${care.parHigh}`
  }.`;
  const band =
    care.parLow === null || care.parHigh === null
      ? ''
      : `<rect class="band" x="${across(care.parLow)}" y="14" width="${px(across(care.parHigh) - across(care.parLow))}" height="14"/>`;
  const ticks = marks
    .map(
      (par) =>
        `<line class="axis" x1="${across(par)}" x2="${across(par)}" y1="28" y2="32"/><text x="${across(par)}" y="44" text-anchor="middle">${par}</text>`,
    )
    .join('');
  const line =
    span === undefined
      ? ''
      : `<line class="lived" x1="${across(low)}" x2="${across(high)}" y1="21" y2="21"/>`;
  return `<svg class="tag-scale" viewBox="0 0 ${width} 48" width="${width}" height="48" role="img" aria-label="${title}">${band}<line class="axis" x1="8" x2="${width - 8}" y1="28" y2="28"/>${ticks}${line}<circle class="point" cx="${across(light.par)}" cy="21" r="5"/></svg>`;
}

/** The buyer's slider: its ends, and where it stands before it is moved, PAR (own choice). */
export const sliderRange = { low: 20, high: 400, usual: 120 };

/** What stands beneath the slider: the tones of light, and the words for people without a meter where they belong. */
export function sliderScale(): string {
  const { low, high } = sliderRange;
  const span = 320;
  const x = (par: number) => px(8 + ((span - 16) * (par - low)) / (high - low));
  const ends = [low, ...LIGHT_STEPS.filter((step) => step > low && step < high), high];
  const tones = ends
    .slice(0, -1)
    .map(
      (par, at) =>
        `<rect class="${lightTone(par)}" x="${x(par)}" y="0" width="${px(x(ends[at + 1] ?? high) - x(par))}" height="12"/>`,
    )
    .join('');
  const words = places
    .map(
      ({ text, par }) =>
        `<text x="${x(par)}" y="28" text-anchor="middle">${text}</text><text x="${x(par)}" y="43" text-anchor="middle">${par}</text>`,
    )
    .join('');
  return `<svg class="tag-scale tag-slider" viewBox="0 0 ${span} 48" width="${span}" height="48" role="img" aria-label="${places.map(({ text, par }) => `${text} is about ${par}`).join(', ')}">${tones}${words}</svg>`;
}

const flows = ['still', 'low', 'medium', 'high'];

/** Waves for the flow it stood in: none for still, one for low, two, three. '' when it was not recorded. */
export function flowPicture({ flow }: TagRecord): string {
  if (flow === null) return '';
  const waves = Math.max(0, flows.indexOf(flow.high));
  const wave = (at: number) => {
    const y = 12 + at * 12;
    return `<path d="M4 ${y} q 12 -9 24 0 t 24 0 t 24 0"/>`;
  };
  const said = flow.low === flow.high ? flow.low : `${flow.low} to ${flow.high}`;
  const lines = Array.from({ length: waves }, (_, at) => wave(at)).join('');
  return `<svg class="tag-flow" viewBox="0 0 80 44" width="80" height="44" role="img" aria-label="Flow: ${said}.">${lines}</svg>`;
}

const fedWords = ({ times, days }: TagRecord['feeding']) =>
  `${plural(times, 'time', 'times')} in ${days} days`;

/** A dot for each of the last days, as many filled as it was fed. '' when no feeding was recorded. */
export function foodPicture({ feeding }: TagRecord): string {
  if (feeding.times === 0) return '';
  const perRow = 10;
  const dots = Array.from({ length: feeding.days }, (_, at) => {
    const [x, y] = [6 + (at % perRow) * 12, 8 + Math.floor(at / perRow) * 13];
    return `<circle class="${at < feeding.times ? 'fed' : 'unfed'}" cx="${x}" cy="${y}" r="4"/>`;
  }).join('');
  return `<svg class="tag-food" viewBox="0 0 120 44" width="120" height="44" role="img" aria-label="Fed ${fedWords(feeding)}.">${dots}</svg>`;
}

/** The few words beneath the pictures of light, flow and food. */
export function pictureWords({ light, flow, feeding }: TagRecord): {
  light: string;
  flow: string;
  food: string;
} {
  const span = flow === null ? '' : flow.low === flow.high ? flow.low : `${flow.low} to ${flow.high}`;
  return {
    light:
      light === null
        ? 'not measured'
        : `${light.par}${spreadWords(light.error)} PAR${isEstimate(light) ? ', estimated' : ''}`,
    flow: flow === null ? 'not recorded' : `${span}${flow.jet ? ', a jet on it' : ''}`,
    food: feeding.times === 0 ? `none recorded in ${feeding.days} days` : fedWords(feeding),
  };
}
