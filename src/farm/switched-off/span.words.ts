import { numberWords, plural } from '../../platform/words/numbers.ts';

/** A time span in the unit that reads best: "30 minutes", "2 hours", "7 days". */
export function spanWords(minutes: number): string {
  const whole = Math.round(minutes);
  if (whole < 120) return plural(whole, 'minute', 'minutes');
  const hours = whole / 60;
  if (hours < 48) return `${numberWords(Math.round(hours * 10) / 10)} hours`;
  return `${numberWords(Math.round((hours / 24) * 10) / 10)} days`;
}
