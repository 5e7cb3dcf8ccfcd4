import { escapeMarkup, px } from '../../platform/charts/markup.ts';

/** A setting, and from when on it holds. */
export interface Stair {
  percent: number;
  day: string;
}

const [width, height, top, foot] = [288, 120, 22, 92];

/** Settings that follow one another, drawn as a stair with each setting and its day. */
export function stairs(steps: readonly Stair[], label: string): string {
  const percents = steps.map(({ percent }) => percent);
  const [low, high] = [Math.min(...percents), Math.max(...percents)];
  const each = width / steps.length;
  const y = (percent: number) => foot - 8 - ((percent - low) / Math.max(1, high - low)) * (foot - 8 - top);
  const path = steps
    .map(
      ({ percent }, i) =>
        `${i === 0 ? 'M0' : `H${px(i * each)}V`}${i === 0 ? ` ${px(y(percent))}` : px(y(percent))}`,
    )
    .join('');
  const words = steps
    .map(({ percent, day }, i) => {
      const middle = px(i * each + each / 2);
      const setting = `<text class="label" x="${middle}" y="${px(y(percent) - 6)}" text-anchor="middle">${percent} %</text>`;
      const when = `<text class="tick" x="${middle}" y="${height - 8}" text-anchor="middle">${escapeMarkup(day)}</text>`;
      return setting + when;
    })
    .join('');
  return `<svg class="chart stairs" viewBox="0 0 ${width} ${height}" role="img" aria-label="${escapeMarkup(label)}"><line class="lane" x1="0" x2="${width}" y1="${foot}" y2="${foot}"/><path class="line gets" d="${path}H${width}"/>${words}</svg>`;
}
