import { escapeMarkup, px } from '../../platform/charts/markup.ts';
import type { Box, RackBox, TankPlan } from './tank-plan.rules.ts';

const rect = ({ x, y, width, height }: Box, className: string) =>
  `<rect class="${className}" x="${px(x)}" y="${px(y)}" width="${px(width)}" height="${px(height)}"/>`;

/** The plan of a tank as SVG: seen from above, the back at the top. */
export function drawTankPlan(plan: TankPlan, name: string): string {
  const { width, height } = plan;
  const lamps = plan.lamps.map((lamp) => rect(lamp, 'lamps')).join('');
  const pumps = plan.pumps.map(pumpMarkup).join('');
  const label = `${name} from above${plan.scaled ? '' : ', not to scale'}`;
  return `<svg class="above" viewBox="0 0 ${px(width)} ${px(height)}" width="${px(width)}" role="group" aria-label="${escapeMarkup(label)}">${rect(plan.tank, 'tank')}${plan.racks.map(rackMarkup).join('')}${lamps}${pumps}</svg>`;
}

function rackMarkup(rack: RackBox): string {
  const lines = rack.lines.map(
    ({ text, x, y }, i) =>
      `<text${i === 0 ? ' class="name"' : ''} x="${px(x)}" y="${px(y)}">${escapeMarkup(text)}</text>`,
  );
  return `<a href="/racks/${rack.id}"><title>${escapeMarkup(rack.title)}</title>${rect(rack, 'shelf')}<g aria-hidden="true">${lines.join('')}</g></a>`;
}

/** Radius of a pump's circle and length of its arrow, px. */
const RADIUS = 10;
const ARROW = 34;

function pumpMarkup({ number, name, x, y, facingDeg }: TankPlan['pumps'][number]): string {
  const arrow =
    facingDeg === null
      ? ''
      : `<path class="blows" transform="rotate(${facingDeg})" d="M${RADIUS} 0H${ARROW}m-7 -5l7 5l-7 5"/>`;
  return `<g class="pump" transform="translate(${px(x)} ${px(y)})"><title>${escapeMarkup(`Pump ${number}: ${name}`)}</title>${arrow}<circle r="${RADIUS}"/><text text-anchor="middle" y="4.5" aria-hidden="true">${number}</text></g>`;
}
