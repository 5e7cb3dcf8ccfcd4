import type { Year } from './report.ts';
import { policyNames } from './run.ts';

const [width, left, barHeight, gap, top] = [640, 150, 30, 14, 56];
/** The service stands out by tone and by its outline, not by colour alone. */
const fills: Readonly<Record<(typeof policyNames)[number], string>> = {
  'no watch': '#9a9a9a',
  'simple watches': '#9a9a9a',
  'the service': '#1f5c66',
  clairvoyant: '#d9d9d9',
};

/** Pieces lost in a farm-year under each policy, as an SVG that stands by itself on light and dark pages. */
export function pictureOf(years: readonly Year[]): string {
  const lost = policyNames.map(
    (name) => years.reduce((sum, year) => sum + year[name].counts.lost, 0) / years.length,
  );
  const scale = (width - left - 90) / Math.max(...lost);
  const bars = policyNames.map((name, i) => {
    const [y, value] = [top + i * (barHeight + gap), lost[i] ?? 0];
    const length = Math.max(2, value * scale);
    return `<text x="${left - 10}" y="${y + 20}" text-anchor="end">${name}</text>
<rect x="${left}" y="${y}" width="${length.toFixed(1)}" height="${barHeight}" fill="${fills[name]}" stroke="#333"/>
<text x="${(left + length + 8).toFixed(1)}" y="${y + 20}">${value.toFixed(1)}</text>`;
  });
  const pieces = years[0]?.['no watch'].pieces ?? 0;
  const title = `Simulated: pieces lost in a year of ${pieces}, mean of ${years.length} farm-years`;
  const height = top + policyNames.length * (barHeight + gap) + 10;
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="${title}" font-family="sans-serif" font-size="15" fill="#222">
<rect width="${width}" height="${height}" fill="#fff"/>
<text x="20" y="32" font-size="16">${title}</text>
${bars.join('\n')}
</svg>
`;
}
