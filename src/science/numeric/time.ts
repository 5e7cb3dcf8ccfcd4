/** Lengths of time in milliseconds. */
export const minuteMs = 60_000;
export const hourMs = 60 * minuteMs;
export const dayMs = 24 * hourMs;

/** Days since 1970-01-01 in UTC, with their fraction: the time axis of everything that is fitted or filtered. */
export const dayOf = (at: Date): number => at.getTime() / dayMs;

/** The moment of a day number, to the millisecond; the inverse of {@link dayOf}. */
export const dateAtDay = (day: number): Date => new Date(Math.round(day * dayMs));

/** The moment so many days of 24 hours later. */
export const daysAfter = (at: Date, days: number): Date => new Date(at.getTime() + days * dayMs);

/** The moment so many days of 24 hours earlier. */
export const daysBefore = (at: Date, days: number): Date => daysAfter(at, -days);

/** Days of 24 hours from one moment to another, with their fraction; negative when `to` comes first. */
export const daysBetween = (from: Date, to: Date): number => (to.getTime() - from.getTime()) / dayMs;
