import { inRange } from '../range.ts';

/** umol/(m2 s) kept for an hour, in mol/m2. */
export const MOL_PER_UMOL_HOUR = 3600 / 1e6;

/** One corner of a day's lamp schedule; the light runs straight from corner to corner, and on over midnight. */
export interface SchedulePoint {
  /** Hour of the day, 0 to 24. */
  readonly hour: number;
  /** Part of the day's highest light, 0 to 1. */
  readonly fraction: number;
}

/**
 * Daily light integral in mol/m2/day of light that peaks at `peakParUmolM2S` and lasts as long as
 * `equivalentHours` hours of the peak would (0 to 24). Exact.
 * Source: definition, DLI = PPFD x seconds / 1e6.
 */
export function dailyLightMolM2(peakParUmolM2S: number, equivalentHours: number): number {
  inRange(peakParUmolM2S, 0, 5000, 'light', 'umol/m2/s');
  inRange(equivalentHours, 0, 24, 'photoperiod', 'h');
  return peakParUmolM2S * equivalentHours * MOL_PER_UMOL_HOUR;
}

/** The peak light in umol/(m2 s) that gives a daily light integral in mol/m2/day over `equivalentHours` (above 0 to 24). */
export function peakParUmolM2S(dailyLight: number, equivalentHours: number): number {
  inRange(dailyLight, 0, 432, 'daily light', 'mol/m2/d');
  inRange(equivalentHours, 0.01, 24, 'photoperiod', 'h');
  return dailyLight / (equivalentHours * MOL_PER_UMOL_HOUR);
}

/**
 * Hours of full light (0 to 24) that carry as much light as one day of a schedule of straight ramps. Exact (trapezium rule).
 *
 * @param schedule at least one corner, hours never falling within 0 to 24; two at one hour are a switch
 */
export function equivalentHours(schedule: readonly SchedulePoint[]): number {
  checkSchedule(schedule);
  const [first] = schedule as [SchedulePoint];
  const day = [...schedule, { hour: first.hour + 24, fraction: first.fraction }];
  return day.slice(1).reduce((sum, point, i) => {
    const before = day[i] as SchedulePoint;
    return sum + ((point.hour - before.hour) * (point.fraction + before.fraction)) / 2;
  }, 0);
}

/**
 * Hours of full light that carry as much as half a sine wave over `hours` (0 to 24), the shape of natural
 * daylight: 2/pi of them. Exact.
 */
export function halfSineEquivalentHours(hours: number): number {
  return (inRange(hours, 0, 24, 'photoperiod', 'h') * 2) / Math.PI;
}

/**
 * The schedule of a lamp that comes up from `startHour`, stays at full light and goes down again; all in hours,
 * together at most 24. It may run over midnight.
 */
export function rampedSchedule(
  startHour: number,
  rampUpHours: number,
  fullHours: number,
  rampDownHours: number,
): SchedulePoint[] {
  inRange(startHour, 0, 24, 'start of the light', 'h');
  for (const part of [rampUpHours, fullHours, rampDownHours]) inRange(part, 0, 24, 'part of the day', 'h');
  inRange(rampUpHours + fullHours + rampDownHours, 0, 24, 'photoperiod', 'h');
  const full = startHour + rampUpHours;
  const corners = [
    { hour: startHour, fraction: 0 },
    { hour: full, fraction: 1 },
    { hour: full + fullHours, fraction: 1 },
    { hour: full + fullHours + rampDownHours, fraction: 0 },
  ];
  const nextDay = corners.filter((corner) => corner.hour > 24);
  // A day-long light ends where it starts; rounding must not carry its end past that.
  const wrapped = nextDay.map((corner) => ({ ...corner, hour: Math.min(corner.hour - 24, startHour) }));
  return [...wrapped, ...corners.filter((corner) => corner.hour <= 24)];
}

/** Part of the day's highest light (0 to 1) at an hour of the day (0 to 24) under a schedule of straight ramps. */
export function lightFractionAt(schedule: readonly SchedulePoint[], hour: number): number {
  checkSchedule(schedule);
  const sought = inRange(hour, 0, 24, 'hour of the day', 'h') % 24;
  const last = schedule.at(-1) as SchedulePoint;
  const [first] = schedule as [SchedulePoint];
  const around = [{ ...last, hour: last.hour - 24 }, ...schedule, { ...first, hour: first.hour + 24 }];
  const next = around.findIndex((point) => point.hour > sought);
  const [from, to] = [around[next - 1] as SchedulePoint, around[next] as SchedulePoint];
  return from.fraction + ((to.fraction - from.fraction) * (sought - from.hour)) / (to.hour - from.hour);
}

function checkSchedule(schedule: readonly SchedulePoint[]): void {
  if (schedule.length === 0) throw new RangeError('a light schedule needs at least one corner');
  schedule.forEach((point, i) => {
    inRange(point.hour, 0, 24, 'hour of the day', 'h');
    inRange(point.fraction, 0, 1, 'fraction of full light');
    const before = schedule[i - 1];
    if (before && before.hour > point.hour)
      throw new RangeError(`the hours of a light schedule must not fall: ${before.hour}, ${point.hour}`);
  });
}
