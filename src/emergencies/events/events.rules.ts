import { notFound } from '../../platform/refusal.ts';
import { ammonia, carbon, contamination, oxygenLow, tissueLoss, treatment } from './animals.rules.ts';
import { type EmergencyEvent, groups } from './event.ts';
import { leak, phFalls, power } from './house.rules.ts';
import { electric, personHurt } from './people.rules.ts';
import { alkalinityLow, overdose, salinity, tooCold, tooWarm } from './water.rules.ts';

/**
 * What can be wrong, most pressing first in each group. First steps, intervals and "not" follow common practice and the
 * sources named with the sums in ../numbers; steps that hold a rate without a published source say so.
 */
export const events: readonly EmergencyEvent[] = [
  personHurt,
  electric,
  power,
  leak,
  phFalls,
  tooWarm,
  tooCold,
  overdose,
  salinity,
  alkalinityLow,
  oxygenLow,
  contamination,
  ammonia,
  tissueLoss,
  treatment,
  carbon,
];

/** @throws Refusal 404 */
export function findEvent(code: string): EmergencyEvent {
  const event = events.find((one) => one.code === code);
  if (event === undefined) throw notFound('This page of steps');
  return event;
}

/** The events by group, as the first page lists them. */
export function eventGroups() {
  return Object.entries(groups).map(([code, name]) => ({
    name,
    events: events.filter(({ group }) => group === code),
  }));
}
