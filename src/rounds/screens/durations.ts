import { minuteMs } from '../../science/numeric/time.ts';
/** "12 min", "1 h 05 min": how long something took, or is to take. */
export function lengthWords(from: Date, to: Date): string {
  const minutes = Math.max(0, Math.round((to.getTime() - from.getTime()) / minuteMs));
  if (minutes < 60) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')} min`;
}
