import { escapeMarkup, px } from '../../platform/charts/markup.ts';
import type { Above, Box, DrawnRack } from './tank-plan.rules.ts';

const rect = ({ x, y, width, height }: Box, className: string) =>
  `<rect class="${className}" x="${px(x)}" y="${px(y)}" width="${px(width)}" height="${px(height)}"/>`;

/** A tank from above, as svg: the back at the top. */
export function abovePicture(above: Above, name: string): string {
  const { width, height } = above;
  const lamps = above.lamps.map((lamp) => rect(lamp, 'lamps')).join('');
  const pumps = above.pumps.map(pumpMarkup).join('');
  const said = `${name} from above${above.scaled ? '' : ', not to scale'}`;
  return `<svg class="above" viewBox="0 0 ${px(width)} ${px(height)}" style="--drawn: ${px(width)}px" role="group" aria-label="${escapeMarkup(said)}">${rect(above.tank, 'tank')}${above.racks.map(rackMarkup).join('')}${lamps}${pumps}</svg>`;
}

function rackMarkup(rack: DrawnRack): string {
  const lines = rack.lines.map(
    ({ text, x, y }, i) =>
      `<text${i === 0 ? ' class="name"' : ''} x="${px(x)}" y="${px(y)}">${escapeMarkup(text)}</text>`,
  );
  return `<a href="/racks/${rack.id}"><title>${escapeMarkup(rack.said)}</title>${rect(rack, 'shelf')}<g aria-hidden="true">${lines.join('')}</g></a>`;
}

const REACH = 34;
const ROUND = 10;

function pumpMarkup({ number, name, x, y, facingDeg }: Above['pumps'][number]): string {
  const arrow =
    facingDeg === null
      ? ''
      : `<path class="blows" transform="rotate(${facingDeg})" d="M${ROUND} 0H${REACH}m-7 -5l7 5l-7 5"/>`;
  return `<g class="pump" transform="translate(${px(x)} ${px(y)})"><title>${escapeMarkup(`Pump ${number}: ${name}`)}</title>${arrow}<circle r="${ROUND}"/><text text-anchor="middle" y="4.5" aria-hidden="true">${number}</text></g>`;
}
