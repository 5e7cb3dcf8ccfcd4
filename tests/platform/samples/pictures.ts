/** Pictures as the server would make them, with the class names that the stylesheet documents. */

/** A rack of five rows of ten slots: bright in the middle, two lots that stand wrong, one jet. */
export function sampleRack(): string {
  const cells = ['A', 'B', 'C', 'D', 'E'].flatMap((row, r) =>
    Array.from({ length: 10 }, (_, c) => cell(row, r, c)),
  );
  const columns = Array.from({ length: 10 }, (_, c) => axisLabel(82 + c * 92, 18, `${c + 1}`));
  const rows = ['A', 'B', 'C', 'D', 'E'].map((row, r) => axisLabel(18, 82 + r * 104, row));
  const jet = '<path class="jet" d="M982 394h-20m6 -6l-6 6l6 6"/>';
  return svg('rack', 990, 554, 'Window rack, five rows of ten slots', [...cells, ...columns, ...rows, jet]);
}

/** Nitrate over ninety days: readings, band, limit, forecast, and a lane of ticks. */
export function sampleChart(): string {
  const hatch =
    '<defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="hatch" y2="6"/></pattern></defs>';
  const grid = [0, 10, 20, 30, 40].map(
    (v) =>
      `<line class="grid" x1="44" x2="964" y1="${y(v)}" y2="${y(v)}"/><text class="tick" x="36" y="${y(v) + 4}" text-anchor="end">${v}</text>`,
  );
  const points = Array.from({ length: 20 }, (_, i) =>
    reading(94 + i * 30, 9 + (i * i) / 55 + Math.sin(i * 2)),
  );
  const events = Array.from(
    { length: 14 },
    (_, i) =>
      `<line class="event${i % 3 ? '' : ' minor'}" x1="${90 + i * 45}" x2="${90 + i * 45}" y1="${i % 3 ? 236 : 246}" y2="252"/>`,
  );
  return svg('chart', 980, 290, 'Nitrate rose from 9 to 16 mg/L in 90 days', [
    hatch,
    `<rect class="band hatched" x="44" y="${y(15)}" width="920" height="${y(2) - y(15)}"/>`,
    ...grid,
    `<path class="forecast-band" d="M681 ${y(15)}L950 ${y(28)}V${y(20)}Z"/><path class="forecast" d="M681 ${y(15.5)}L950 ${y(24)}"/>`,
    `<line class="limit" x1="44" x2="964" y1="${y(30)}" y2="${y(30)}"/><text class="limit-label" x="964" y="${y(30) - 6}" text-anchor="end">limit 30</text>`,
    `<line class="now-line" x1="681" x2="681" y1="12" y2="252"/><text class="label" x="686" y="24">today</text>`,
    ...points,
    `<circle class="point unconfirmed" cx="660" cy="${y(19)}" r="3.5"/><circle class="point voided" cx="640" cy="${y(4)}" r="3.5"/>`,
    '<line class="lane" x1="44" x2="964" y1="252" y2="252"/>',
    ...events,
    '<text class="tick" x="44" y="278">26 Aug</text><text class="tick" x="681" y="278" text-anchor="middle">24 Nov</text>',
  ]);
}

/** A line of history for a table row. */
export function sampleSpark(): string {
  const points = Array.from(
    { length: 14 },
    (_, i) => `${2 + i * 8.6},${(15 + 6 * Math.sin(i * 1.7)).toFixed(1)}`,
  );
  return `<svg class="chart spark" width="120" height="30" viewBox="0 0 120 30" aria-hidden="true"><rect class="band" y="5" width="116" height="20"/><polyline class="line" points="${points.join(' ')}"/><circle class="point" cx="114" cy="${(15 + 6 * Math.sin(13 * 1.7)).toFixed(1)}" r="2.2"/></svg>`;
}

const LOTS: Record<string, [code: string, kind: string, state?: string, note?: string]> = {
  A1: ['K7-3Q', 'Lobophyllia'],
  A2: ['K7-41', 'Lobophyllia'],
  B7: ['R4-6T', 'Goniastrea', 'now', '58 → 149, ×2.6'],
  B8: ['R4-6U', 'Goniastrea', 'today', '90 → 141, ×1.6'],
  C3: ['M2-9C', 'Favites', 'chosen'],
  D10: ['W3-5X', 'Echinophyllia', 'watch', 'jet on flesh'],
};

function cell(row: string, r: number, c: number): string {
  const [x, top] = [36 + c * 92, 26 + r * 104];
  const par = Math.round(150 * Math.exp(-(((c - 6) / 5) ** 2) - ((r - 1.5) / 6) ** 2));
  const tone = Math.min(6, Math.floor(par / 22));
  const lot = LOTS[`${row}${c + 1}`];
  const waves = Array.from(
    { length: 1 + (c % 3) },
    (_, i) => `<path class="flow" d="M${x + 52} ${top + 95 - i * 6}q5 -5 10 0t10 0t10 0"/>`,
  );
  return [
    `<rect class="cell light-${tone}${row === 'E' && c === 2 ? ' offered' : ''}" x="${x}" y="${top}" width="92" height="104"/>`,
    `<text class="light${c % 2 ? ' estimated' : ''}" x="${x + 7}" y="${top + 17}">${par}</text>`,
    ...waves,
    lot ? plate(x, top, ...lot) : '',
  ].join('');
}

function plate(x: number, top: number, code: string, kind: string, state = '', note = ''): string {
  return `<a href="/stock/${code}"><g class="lot ${state}"><rect class="plate" x="${x + 7}" y="${top + 26}" width="78" height="38" rx="2"/><text class="code" x="${x + 13}" y="${top + 42}">${code}</text> <text class="kind" x="${x + 13}" y="${top + 57}">${kind.slice(0, 9)}</text> <text class="note" x="${x + 8}" y="${top + 78}">${note}</text></g></a>`;
}

function reading(x: number, value: number): string {
  return `<line class="bar" x1="${x}" x2="${x}" y1="${y(value * 1.08)}" y2="${y(value * 0.92)}"/><circle class="point" cx="${x}" cy="${y(value)}" r="3"/>`;
}

function y(value: number): number {
  return Math.round((224 - value * 5.3) * 10) / 10;
}

function axisLabel(x: number, top: number, text: string): string {
  return `<text class="axis-label" x="${x}" y="${top}" text-anchor="middle">${text}</text>`;
}

function svg(kind: string, width: number, height: number, label: string, parts: string[]): string {
  return `<svg class="${kind}" viewBox="0 0 ${width} ${height}" role="${kind === 'rack' ? 'group' : 'img'}" aria-label="${label}">${parts.join('')}</svg>`;
}
