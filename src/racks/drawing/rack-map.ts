import { rowLetter } from '../../farm/racks/slots.rules.ts';
import { escapeMarkup, px } from '../../platform/charts/markup.ts';
import { calledBy } from '../../stock/base/codes.ts';
import type { SlotOccupancy } from '../../stock/places/occupancy.ts';
import { lightTone } from './light-tones.rules.ts';
import { fitText } from './text-fit.rules.ts';

/** A rack that is looked at as a whole: which lots are meant, and how urgently. */
export interface RackMap {
  /** One sentence that says what the picture shows. */
  label: string;
  rows: number;
  columns: number;
  slots: readonly SlotOccupancy[];
  /** By the id of the lot; lots that are not named are drawn thin. */
  meant: ReadonlyMap<string, 'now' | 'today' | 'watch'>;
  /** The newest photograph of each lot that has one, by the id of the lot. */
  photos: ReadonlyMap<string, string>;
  width: number;
}

/** The largest slot, px, and the room for letters and numbers at the edge. */
const LARGEST = 64;
const EDGE = 18;
/** From this size on a slot has room for its light, and for a photograph. */
const READABLE = 34;

/** A whole rack in the width of the page: light as tone, lots as plates, those that are meant ringed and marked. */
export function drawRackMap(map: RackMap): string {
  const { rows, columns, width, label } = map;
  const side = Math.min(LARGEST, Math.floor((width - EDGE) / columns));
  const [wide, high] = [EDGE + columns * side + 2, EDGE + rows * side + 2];
  const cells = map.slots.map((slot) => cellOf(slot, side)).join('');
  const lots = map.slots.map((slot) => plateOf(slot, map, side)).join('');
  return `<svg class="rack map" viewBox="0 0 ${wide} ${high}" width="${wide}" height="${high}" role="img" aria-label="${escapeMarkup(label)}">${edgeOf(map, side)}${cells}${lots}</svg>`;
}

const placeOf = ({ row, column }: SlotOccupancy, side: number): [number, number] => [
  EDGE + (column - 1) * side,
  EDGE + (row - 1) * side,
];

function cellOf(slot: SlotOccupancy, side: number): string {
  const [x, y] = placeOf(slot, side);
  const tone = lightTone(slot.light?.par ?? null);
  const cell = `<rect class="cell ${tone}" x="${x}" y="${y}" width="${side}" height="${side}"/>`;
  if (slot.lot !== null || slot.light === null || side < READABLE) return cell;
  const light = Math.round(slot.light.par);
  return `${cell}<text class="map-light on-${tone.replace('light-', '')}" x="${x + side / 2}" y="${px(y + side / 2 + 4)}" text-anchor="middle" font-size="12">${light}</text>`;
}

function plateOf(slot: SlotOccupancy, map: RackMap, side: number): string {
  const { lot } = slot;
  if (lot === null) return '';
  const [x, y] = placeOf(slot, side);
  const severity = map.meant.get(lot.id) ?? 'other';
  const inset = Math.max(2, Math.round(side * 0.1));
  const size = side - 2 * inset;
  const title = `<title>${escapeMarkup(`${slot.name}: ${calledBy(lot)}, ${lot.kind}`)}</title>`;
  const plate = `<rect class="map-plate" x="${x + inset}" y="${y + inset}" width="${size}" height="${size}" rx="2"/>`;
  const photo = map.photos.get(lot.id);
  const inside =
    photo === undefined
      ? codeOf(calledBy(lot), x, y, side, size)
      : `<image href="/photos/${photo}/small" x="${x + inset}" y="${y + inset}" width="${size}" height="${size}" preserveAspectRatio="xMidYMid slice"/>`;
  return `<g class="map-lot ${severity}">${title}${plate}${inside}${markOf(severity, x + inset, y + inset, side)}</g>`;
}

/** The code in two lines, where it can be read. */
function codeOf(code: string, x: number, y: number, side: number, size: number): string {
  if (side < 44) return '';
  const [first = '', rest = ''] = code.split(/-(.*)/);
  return [first, rest]
    .filter((line) => line !== '')
    .map((line, i, all) => {
      const foot = y + side / 2 + 4 + (i - (all.length - 1) / 2) * 14;
      return `<text class="map-code" x="${x + side / 2}" y="${px(foot)}" text-anchor="middle" font-size="12">${escapeMarkup(fitText(line, size - 4, 12))}</text>`;
    })
    .join('');
}

/** As much ink as there is urgency, in the corner of the plate: it is seen without colour. */
function markOf(severity: string, x: number, y: number, side: number): string {
  const mark = Math.max(6, Math.round(side * 0.2));
  const box = `<rect class="map-box" x="${x}" y="${y}" width="${mark}" height="${mark}"/>`;
  if (severity === 'now') return `<rect class="map-ink" x="${x}" y="${y}" width="${mark}" height="${mark}"/>`;
  if (severity === 'today') return `${box}<path class="map-ink" d="M${x} ${y}v${mark}h${mark}z"/>`;
  return severity === 'watch' ? box : '';
}

function edgeOf({ rows, columns }: RackMap, side: number): string {
  const words = (text: string, x: number, y: number) =>
    `<text class="axis-label" x="${px(x)}" y="${px(y)}" text-anchor="middle">${text}</text>`;
  const every = side < 22 ? 2 : 1;
  const numbers = Array.from({ length: columns }, (_, i) =>
    i % every === 0 ? words(String(i + 1), EDGE + (i + 0.5) * side, EDGE - 5) : '',
  );
  const letters = Array.from({ length: rows }, (_, i) =>
    words(rowLetter(i + 1), EDGE / 2 - 2, EDGE + (i + 0.5) * side + 4),
  );
  return [...numbers, ...letters].join('');
}
