import { minuteMs } from '../../science/numeric/time.ts';
import { zoneOffset } from './zone-offset.ts';

const twoDigits = (n: number) => String(n).padStart(2, '0');

/** "2026-11-24T07:30:00+00:00": ISO 8601 in a zone, with its offset to the minute. */
export function isoTime(at: Date, timeZone: string): string {
  const offset = zoneOffset(at, timeZone);
  const minutes = Math.round(Math.abs(offset) / minuteMs);
  const there = new Date(at.getTime() + offset).toISOString().replace(/\.\d+Z$/, '');
  return `${there}${offset < 0 ? '-' : '+'}${twoDigits(Math.floor(minutes / 60))}:${twoDigits(minutes % 60)}`;
}
