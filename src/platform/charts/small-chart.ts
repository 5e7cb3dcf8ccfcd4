import { extent } from 'd3-array';
import { scaleLinear, scaleUtc } from 'd3-scale';
import { curveLinear, curveStepAfter, line } from 'd3-shape';
import { escapeMarkup, px } from './markup.ts';

/** A picture of one matter for a line of a list, as plain data, so that a list that is kept can be drawn again. */
export type SmallPicture =
  | {
      kind: 'course';
      /** ISO 8601 and a value, oldest first, all in one unit. */
      points: readonly { at: string; value: number }[];
      /** Each value holds until the next. */
      stepped: boolean;
      band: { low: number | null; high: number | null } | null;
      /** From when on it is so. */
      since: string | null;
      /** Where it is thought to be now and where it is heading, the first of them the large figure; missing where nothing is said. */
      ahead?: readonly { at: string; value: number }[];
      from: string;
      to: string;
      says: string;
    }
  | { kind: 'pairs'; tests: readonly { truth: number; shown: number }[]; says: string }
  | ({
      kind: 'rack';
      /** Other racks with lots that are meant; missing where there are none. */
      beside?: readonly SmallRack[];
      says: string;
    } & SmallRack);

/** A rack from above. */
export interface SmallRack {
  rows: number;
  columns: number;
  /** Slots that are taken; `severity` of the lots that are meant, else ''. */
  cells: readonly { row: number; column: number; severity: string }[];
}

/** How it is drawn: its size, and the tone of the time since it is so. */
export interface SmallLook {
  width?: number;
  height?: number;
  tone?: 'now' | 'today' | 'watch';
}

const pad = 4;

/** A small picture of exactly one matter, with a sentence for who does not see it: svg of the class "chart spark". */
export function smallChart(
  picture: SmallPicture,
  { width = 160, height = 56, tone = 'watch' }: SmallLook = {},
): string {
  const inside =
    picture.kind === 'course'
      ? courseOf(picture, width, height, tone)
      : picture.kind === 'pairs'
        ? pairsOf(picture, width, height)
        : racksOf(picture, width, height);
  return `<svg class="chart spark" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="${escapeMarkup(picture.says)}">${inside}</svg>`;
}

type Of<K extends SmallPicture['kind']> = Extract<SmallPicture, { kind: K }>;

function courseOf(picture: Of<'course'>, width: number, height: number, tone: string): string {
  const { points, stepped, band, since, ahead = [], from, to } = picture;
  const x = scaleUtc([new Date(from), new Date(to)], [pad, width - pad]);
  const values = [...points, ...ahead].map(({ value }) => value);
  const [low = 0, high = 1] = extent(values);
  const y = scaleLinear(low === high ? [low - 1, high + 1] : [low, high], [height - pad, pad]);
  const inside = (value: number) => Math.max(0, Math.min(height, y(value)));
  const washed =
    since === null
      ? ''
      : `<rect class="wash ${tone}" x="${px(Math.max(0, x(new Date(since))))}" y="0" width="${px(Math.max(0, width - Math.max(0, x(new Date(since)))))}" height="${height}"/>`;
  const top = band?.high == null ? 0 : inside(band.high);
  const bottom = band?.low == null ? height : inside(band.low);
  const kept =
    band === null || bottom - top < 1 || (top === 0 && bottom === height)
      ? ''
      : `<rect class="band" x="0" y="${px(top)}" width="${width}" height="${px(bottom - top)}"/>`;
  const pathOf = (of: typeof points) =>
    line<(typeof points)[number]>(
      ({ at }) => px(x(new Date(at))),
      ({ value }) => px(y(value)),
    ).curve(stepped ? curveStepAfter : curveLinear)([...of]) ?? '';
  // The dot is the figure that stands beside the picture.
  const told = ahead[0] ?? points.at(-1);
  const dot =
    told === undefined || stepped
      ? ''
      : `<circle class="point" cx="${px(x(new Date(told.at)))}" cy="${px(y(told.value))}" r="3"/>`;
  const heading = ahead.length < 2 ? '' : `<path class="ahead" d="${pathOf(ahead)}"/>`;
  return `${kept}${washed}<path class="line${stepped ? ' gets' : ''}" d="${pathOf(points)}"/>${heading}${dot}`;
}

function pairsOf({ tests }: Of<'pairs'>, width: number, height: number): string {
  const [low = 0, high = 1] = extent(tests.flatMap(({ truth, shown }) => [truth, shown]));
  const y = scaleLinear(low === high ? [low - 1, high + 1] : [low, high], [height - 8, 8]);
  const each = width / Math.max(1, tests.length);
  return tests
    .map(({ truth, shown }, i) => {
      const at = px((i + 0.5) * each);
      return `<line class="bar" x1="${at}" x2="${at}" y1="${px(y(truth))}" y2="${px(y(shown))}"/><circle class="point" cx="${at}" cy="${px(y(truth))}" r="3"/><circle class="point unconfirmed" cx="${at}" cy="${px(y(shown))}" r="3.4"/>`;
    })
    .join('');
}

const rackGap = 6;

/** Racks two to a line, all of one scale, in the middle of the height. */
function racksOf({ rows, columns, cells, beside = [] }: Of<'rack'>, width: number, height: number): string {
  const racks = [{ rows, columns, cells }, ...beside];
  const perLine = Math.min(2, racks.length);
  const lines = Math.ceil(racks.length / perLine);
  const [wide, tall] = [
    Math.max(...racks.map((rack) => rack.columns)),
    Math.max(...racks.map((rack) => rack.rows)),
  ];
  const side = Math.min(
    (width - rackGap * (perLine - 1)) / (wide * perLine),
    (height - rackGap * (lines - 1)) / (tall * lines),
  );
  const top = (height - lines * tall * side - rackGap * (lines - 1)) / 2;
  return racks
    .map((rack, i) => {
      const left = (i % perLine) * (wide * side + rackGap);
      return rackOf(rack, left, top + Math.floor(i / perLine) * (tall * side + rackGap), side);
    })
    .join('');
}

function rackOf({ rows, columns, cells }: SmallRack, left: number, top: number, side: number): string {
  const grid = `<rect class="mini-frame" x="${px(left + 0.5)}" y="${px(top + 0.5)}" width="${px(columns * side - 1)}" height="${px(rows * side - 1)}"/>`;
  const drawn = cells.map(({ row, column, severity }) => {
    const inset = side * 0.16;
    const place = `x="${px(left + (column - 1) * side + inset)}" y="${px(top + (row - 1) * side + inset)}" width="${px(side - 2 * inset)}" height="${px(side - 2 * inset)}"`;
    return `<rect class="mini-lot ${severity}" ${place}/>`;
  });
  return grid + drawn.join('');
}
