import { escapeMarkup, px } from '../../platform/charts/markup.ts';
import { plural } from '../../platform/words/numbers.ts';
import { type MiniatureCell, miniatureMarks } from '../drawing/miniature.ts';
import type { RackOverview } from './overview.rules.ts';
import { MARK, NAME_SIZE, type RackAt, type RoomPlan, type TankAt } from './room-plan.rules.ts';

type Rack = RackOverview & { cells: readonly MiniatureCell[] };

/** The plan of a room as SVG: seen from above, the back at the top. Each tank and each rack leads to its page. */
export function drawRoomPlan(
  plan: RoomPlan<Rack>,
  { name, className }: { name: string; className: string },
): string {
  const { width, height } = plan;
  return `<svg class="room-plan ${className}" viewBox="0 0 ${px(width)} ${px(height)}" width="${px(width)}" role="group" aria-label="${escapeMarkup(`${name} from above`)}">${plan.tanks.map(tankMarkup).join('')}</svg>`;
}

const text = ({ text: words, x, y }: { text: string; x: number; y: number }, className: string) =>
  `<text class="${className}" x="${px(x)}" y="${px(y)}" font-size="${NAME_SIZE}">${escapeMarkup(words)}</text>`;

function tankMarkup({ id, title, name, racks, turned, x, y, width, height }: TankAt<Rack>): string {
  const box = `<rect class="tank" x="${px(x)}" y="${px(y)}" width="${px(width)}" height="${px(height)}" rx="3"/>`;
  const words = name === null ? '' : `<g aria-hidden="true">${text(name, 'tank-name')}</g>`;
  return `<a href="/tanks/${id}"><title>${escapeMarkup(title)}</title>${box}${words}</a>${racks.map((rack) => rackMarkup(rack, turned)).join('')}`;
}

function rackMarkup({ rack, side, name, mark, x, y, width, height }: RackAt<Rack>, turned: boolean): string {
  // The drawn words first and in their order, so that who speaks what is seen reaches it (WCAG 2.2, 2.5.3).
  const said = [
    rack.name,
    ...(rack.now > 0 ? [`${rack.now} now`] : []),
    ...(rack.today > 0 ? [`${rack.today} today`] : []),
    plural(rack.lots, 'lot', 'lots'),
  ].join(', ');
  const cells = turned ? rack.cells.map((cell) => turnedCell(cell, rack.rows)) : rack.cells;
  const hit = `<rect class="hit${rack.now > 0 ? ' now' : ''}" x="${px(x - 2)}" y="${px(y - 18)}" width="${px(width + 4)}" height="${px(height + 20)}"/>`;
  const head = `${name === null ? '' : text(name, 'rack-name')}${mark === null ? '' : markMarkup(mark)}`;
  return `<a href="/racks/${rack.id}"><title>${escapeMarkup(said)}</title>${hit}<g aria-hidden="true">${head}<g class="rack mini" transform="translate(${px(x)} ${px(y)})">${miniatureMarks(cells, side)}</g></g></a>`;
}

/** A slot of a rack in a tank that is turned clockwise: the back row is at the right. */
const turnedCell = (cell: MiniatureCell, rows: number): MiniatureCell => ({
  ...cell,
  row: cell.column,
  column: rows - cell.row + 1,
});

/** A full square for now, a half one for today, as everywhere. */
function markMarkup({ severity, text: words, x, y }: NonNullable<RackAt<Rack>['mark']>): string {
  const [left, top] = [px(x), px(y - MARK)];
  const square =
    severity === 'now'
      ? `<path class="full" d="M${left} ${top}h${MARK}v${MARK}h-${MARK}z"/>`
      : `<path class="half" d="M${left} ${top}h${MARK}v${MARK}h-${MARK}z"/><path class="full" d="M${left} ${top}l${MARK} ${MARK}h-${MARK}z"/>`;
  return `<g class="${severity}">${square}${words === '' ? '' : text({ text: words, x: x + MARK + 4, y }, 'mark-word')}</g>`;
}
