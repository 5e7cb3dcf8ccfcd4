import { globSync } from 'node:fs';
import { dirname } from 'node:path';
import { fileURLToPath } from 'node:url';
import { importsOf } from './cruise.ts';

/** More names than this in one listing and a reader searches instead of reading (own choice). */
export const longestListing = 25;

/** The room of a source file: its folder. A file beside a folder of its own name is the door of that room. */
export function roomOf(file: string, folders: ReadonlySet<string>): string {
  const inside = file.replace(/\.ts$/, '');
  return folders.has(inside) ? inside : dirname(file);
}

/** Circles among rooms, each as the rooms on its way and the imports that tie them. Types count as well as values. */
export function circlesOf(imports: readonly { from: string; to: string }[]): string[] {
  const folders = new Set(imports.flatMap(({ from, to }) => [dirname(from), dirname(to)]));
  const arrows = new Map<string, Map<string, string>>();
  for (const { from, to } of imports) {
    const [here, there] = [roomOf(from, folders), roomOf(to, folders)];
    if (here === there) continue;
    const out = arrows.get(here) ?? new Map<string, string>();
    if (!out.has(there)) out.set(there, `${from} -> ${to}`);
    arrows.set(here, out);
  }
  return knotsOf(arrows).map((rooms) => {
    const inside = new Set(rooms);
    const ties = rooms.flatMap((room) =>
      [...(arrows.get(room) ?? [])].flatMap(([to, tie]) => (inside.has(to) ? [tie] : [])),
    );
    return `rooms in a circle: ${rooms.join(', ')}\n  ${ties.join('\n  ')}`;
  });
}

/** Sets of rooms that reach one another (Tarjan 1972, strongly connected components of more than one). */
function knotsOf(arrows: ReadonlyMap<string, ReadonlyMap<string, string>>): string[][] {
  const index = new Map<string, number>();
  const low = new Map<string, number>();
  const stack: string[] = [];
  const knots: string[][] = [];
  const visit = (room: string): void => {
    index.set(room, index.size);
    low.set(room, index.get(room) as number);
    stack.push(room);
    for (const next of arrows.get(room)?.keys() ?? []) {
      if (!index.has(next)) visit(next);
      if (stack.includes(next)) low.set(room, Math.min(low.get(room) as number, low.get(next) as number));
    }
    if (low.get(room) !== index.get(room)) return;
    const knot = stack.splice(stack.indexOf(room));
    if (knot.length > 1) knots.push(knot.sort());
  };
  for (const room of arrows.keys()) if (!index.has(room)) visit(room);
  return knots;
}

/** Folders of sources with more files than a reader takes in at a glance. */
export function longListings(files: readonly string[]): string[] {
  const counts = Map.groupBy(files, dirname);
  return [...counts]
    .filter(([, list]) => list.length > longestListing)
    .map(([folder, list]) => `a listing of ${list.length} files: ${folder}`);
}

/** What is wrong with the rooms of a tree of sources; one line each. */
export async function inspectRooms(baseDir: string): Promise<string[]> {
  const files = globSync('src/**/*.ts', { cwd: baseDir }).filter((file) => !file.startsWith('src/generated'));
  return [...circlesOf(await importsOf(baseDir, ['src'])), ...longListings(files)];
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const found = await inspectRooms(process.cwd());
  process.stdout.write(`${found.join('\n')}\n${found.length} found\n`);
}
