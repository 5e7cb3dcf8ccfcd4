import { existsSync, readFileSync } from 'node:fs';
import type { PublishedLine } from './published.ts';

function row(cells: string[], widths: number[]): string {
  return cells
    .map((cell, at) => cell.padEnd(widths[at] ?? 0))
    .join('  ')
    .trimEnd();
}

/** The table of what was compared with published values, read from the file the tests wrote. */
export function publishedTable(file: string): string {
  if (!existsSync(file)) return 'No published values were compared.';
  const lines = readFileSync(file, 'utf8')
    .split('\n')
    .filter(Boolean)
    .map((line) => JSON.parse(line) as PublishedLine);
  const cells = lines
    .sort((a, b) => a.topic.localeCompare(b.topic))
    .map((line) => [
      line.topic,
      String(line.count),
      line.largestRelativeDeviation.toExponential(1),
      line.tolerance,
      line.source,
    ]);
  const head = [
    'Compared with published values',
    'values',
    'largest relative deviation',
    'tolerance',
    'source',
  ];
  const widths = head.map((title, at) =>
    Math.max(title.length, ...cells.map((line) => (line[at] ?? '').length)),
  );
  return [head, ...cells].map((line) => row(line, widths)).join('\n');
}
