/** The days of a week in the order of ISO 8601: Monday is 1. */
export const WEEKDAYS = [
  'Monday',
  'Tuesday',
  'Wednesday',
  'Thursday',
  'Friday',
  'Saturday',
  'Sunday',
] as const;

/** "every day", "Monday to Friday", "Monday, Thursday". */
export function weekdayWords(weekdays: readonly number[]): string {
  const days = [...weekdays].sort((a, b) => a - b);
  if (days.length === 7) return 'every day';
  if (days.join() === '1,2,3,4,5') return 'Monday to Friday';
  return days.map((day) => WEEKDAYS[day - 1]).join(', ');
}
