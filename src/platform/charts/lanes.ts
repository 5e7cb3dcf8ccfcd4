import { max } from 'd3-array';
import { numberWords } from '../words/numbers.ts';
import { escapeMarkup, px } from './markup.ts';
import type { Frame } from './time-chart.ts';

/** What was put in or seen day by day, as bars beneath the picture. */
export interface BarLane {
  /** Said above the bars: "Alkalinity doser, mL a day". */
  name: string;
  bars: readonly { at: Date; value: number }[];
  /** What is set or usual, as a dashed line with its words; null where nothing is. */
  usual: { value: number; text: string } | null;
}

/** From when on something is so: the time is washed in the tone of its urgency. */
export interface Wash {
  from: Date;
  /** Where it began for sure; the time between is washed paler. */
  surely: Date;
  /** Until when that is known: what lies ahead is not washed. */
  to: Date;
  text: string;
  tone: 'now' | 'today' | 'watch';
}

/** Height of a lane with its name. */
export const laneHeight = 76;
const nameRoom = 22;
/** Room for the words of a wash above the picture. */
export const washRoom = 16;
/** The widest bar. */
const widest = 8;

/** The lanes, one below the other, between the foot of the picture and the days. */
export function barLanesOf(lanes: readonly BarLane[], wash: Wash | null, frame: Frame): string {
  const top = frame.lane - lanes.length * laneHeight;
  return lanes.map((lane, i) => laneOf(lane, wash, frame, top + (i + 1) * laneHeight)).join('');
}

function laneOf(
  { name, bars, usual }: BarLane,
  wash: Wash | null,
  { x, left, right }: Frame,
  foot: number,
): string {
  const shown = bars.filter(({ at }) => x(at) >= left - 1 && x(at) <= right + 1);
  const most = max([...shown.map(({ value }) => value), usual?.value ?? 0]) ?? 0;
  const room = laneHeight - nameRoom - 4;
  const height = (value: number) => (most <= 0 ? 0 : (value / most) * room);
  const days = Math.max(1, (x.domain()[1]?.getTime() ?? 0) - (x.domain()[0]?.getTime() ?? 0)) / 86_400_000;
  const width = Math.max(1.5, Math.min(widest, ((right - left) / days) * 0.7));
  const drawn = shown
    .map(({ at, value }) => {
      const tall = height(value);
      const start = Math.max(left, Math.min(right - width, x(at) - width / 2));
      const quiet = wash !== null && at < wash.from ? ' quiet' : '';
      return `<rect class="lane-bar${quiet}" x="${px(start)}" y="${px(foot - tall)}" width="${px(width)}" height="${px(tall)}"/>`;
    })
    .join('');
  const highest = max(shown, ({ value }) => value) ?? 0;
  const said = usual === null ? name : nameBeside(name, usual.text, right - left);
  const words = `<text class="label" x="${left}" y="${px(foot - laneHeight + 16)}">${escapeMarkup(said)}</text>`;
  const scale = scaleOf(highest, left, foot - height(highest), foot);
  const base = `<line class="lane" x1="${left}" x2="${right}" y1="${foot}" y2="${foot}"/>`;
  return `${words}${scale}${drawn}${base}${usualOf(usual, left, right, foot - height(usual?.value ?? 0), foot - laneHeight + 16)}`;
}

/** A letter of 13 px, on the wide side: a name is cut rather than written over. */
const letterPx = 6.7;

/** The name of a lane, cut where the words at its right leave no room for the whole. */
function nameBeside(name: string, words: string, room: number): string {
  const most = Math.floor(room / letterPx) - words.length - 2;
  return name.length <= most ? name : `${name.slice(0, Math.max(0, most - 1)).trimEnd()}…`;
}

/** How much the highest bar stands for, and none, where the picture above has its own scale. */
function scaleOf(highest: number, left: number, top: number, foot: number): string {
  if (highest <= 0) return '';
  const tick = (text: string, y: number) =>
    `<text class="tick" x="${left - 8}" y="${px(y)}" dy="0.32em" text-anchor="end">${text}</text>`;
  const line = `<line class="grid" x1="${left - 4}" x2="${left}" y1="${px(top)}" y2="${px(top)}"/>`;
  return `${tick(numberWords(highest, highest < 10 && !Number.isInteger(highest) ? 1 : 0), top)}${tick('0', foot)}${line}`;
}

function usualOf(usual: BarLane['usual'], left: number, right: number, at: number, foot: number): string {
  if (usual === null) return '';
  const words = `<text class="tick" x="${right}" y="${px(foot)}" text-anchor="end">${escapeMarkup(usual.text)}</text>`;
  return `<line class="usual" x1="${left}" x2="${right}" y1="${px(at)}" y2="${px(at)}"/>${words}`;
}

/** The time since something is so, from the top of the picture to its foot. */
export function washOf(wash: Wash | null, { x, left, right, top, lane }: Frame): string {
  if (wash === null || x(wash.surely) >= right) return '';
  const [from, surely] = [Math.max(left, x(wash.from)), Math.max(left, x(wash.surely))];
  const end = Math.min(right, x(wash.to));
  const rect = (start: number, end: number, mark: string) =>
    end - start < 0.5
      ? ''
      : `<rect class="wash ${wash.tone}${mark}" x="${px(start)}" y="${top}" width="${px(end - start)}" height="${px(lane - top)}"/>`;
  return `${rect(from, surely, ' maybe')}${rect(surely, end, '')}`;
}

/** The words of the wash, above the picture and above the names of moments. */
export function washWords(wash: Wash | null, { x, left, right, top }: Frame): string {
  if (wash === null || x(wash.surely) >= right) return '';
  const start = Math.max(left, x(wash.from));
  const long = wash.text.length * 7;
  const anchor = start + long > right ? 'end' : 'start';
  const at = anchor === 'end' ? right : start;
  return `<text class="wash-label ${wash.tone}" x="${px(at)}" y="${top - washRoom - 8}" text-anchor="${anchor}">${escapeMarkup(wash.text)}</text>`;
}
