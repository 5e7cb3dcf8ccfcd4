import type { OffThing } from '../../generated/prisma/enums.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import type { MeasuredReading, TrustContext } from './measured.ts';
import { deviationOf, limitsOf, sideOf } from './surprise.rules.ts';

/** Something that stood still for a while: switched off for now, or noted as faulty. */
export interface StoppedThing {
  thing: OffThing;
  /** As people call it. */
  what: string;
  from: Date;
  /** Null while nobody has seen it running again. */
  until: Date | null;
  /** Of a doser: what its solution raises; null where that is not on the books. */
  doses: string | null;
}

type Side = 'below' | 'above';

const still: Readonly<Record<string, Side>> = { oxygen: 'below', ph: 'below' };

/** Where water goes when a thing stands still; what a doser holds counts before what dosers usually hold. Common practice. */
const leads: Readonly<Partial<Record<OffThing, Readonly<Record<string, Side>>>>> = {
  all_flow: { ...still, temperature: 'below' },
  return_pump: { ...still, temperature: 'below' },
  wave_pump: still,
  air: still,
  skimmer: still,
  heating: { temperature: 'below' },
  cooling: { temperature: 'above' },
  doser: { alkalinity: 'below', calcium: 'below', magnesium: 'below' },
  reactor: { alkalinity: 'below', calcium: 'below' },
  top_up: { salinity: 'above' },
  media_filter: { phosphate: 'above' },
};

/** The side to which a thing that stands still leads a quantity; null where it does not. */
export function leadsTo({ thing, doses }: Pick<StoppedThing, 'thing' | 'doses'>, code: string): Side | null {
  if (thing === 'doser' && doses !== null) return doses === code ? 'below' : null;
  return leads[thing]?.[code] ?? null;
}

/** What ran again within so many days before a reading still explains it; own choice. */
export const stoppedDays = 2;

/** What ran again stood still for so many hours at least; own choice: pumps are off for minutes at every feeding. */
const leastHours = 1;

/**
 * The thing that stood still before a reading and leads to the side on which it surprises: evidence of its own, so that the
 * reading is relied on without a second test. Null without one.
 */
export function explainedByStop(reading: MeasuredReading, context: TrustContext): StoppedThing | null {
  const by = deviationOf(reading, context)?.by ?? 0;
  const side = by === 0 ? sideOf(reading, limitsOf(context)) : by < 0 ? 'below' : 'above';
  if (side === null) return null;
  const stood = ({ from, until }: StoppedThing) =>
    from < reading.at &&
    (until === null ||
      (daysBetween(until, reading.at) <= stoppedDays && daysBetween(from, until) * 24 >= leastHours));
  return context.stopped?.find((one) => stood(one) && leadsTo(one, context.quantity.code) === side) ?? null;
}
