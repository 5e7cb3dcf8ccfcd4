import { dayMs } from '../../science/numeric/time.ts';

const mostKept = 20_000;
const days = new Map<number, string>();
const times = new Map<number, string>();

/**
 * A moment, milliseconds since 1970, as facts have it. Its text is put together from those of its day and of its time:
 * a farm's readings share them, and a date is slow to write.
 */
export function timeOf(ms: number): { at: string; day: number } {
  const start = Math.floor(ms / dayMs) * dayMs;
  return { at: `${kept(days, start, 0, 11)}${kept(times, ms - start, 11, 24)}`, day: ms / dayMs };
}

/** A row's moment as facts have it. */
export const withTime = <T extends { ms: number }>({ ms, ...row }: T) => ({ ...row, ...timeOf(ms) });

/** SQL: a time, kept to the millisecond, as a number; as such it takes the driver ten times as long to read. */
export const sqlMs = (time: string, name = 'ms'): string => `date_part('epoch', ${time}) * 1000 AS ${name}`;

function kept(texts: Map<number, string>, ms: number, from: number, to: number): string {
  const known = texts.get(ms);
  if (known !== undefined) return known;
  const text = new Date(ms).toISOString().slice(from, to);
  if (texts.size >= mostKept) texts.clear();
  texts.set(ms, text);
  return text;
}
