import type { FindingKey } from '../../../alerts/finding.ts';
import { memoize } from '../../../platform/memoize.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import {
  type Asked,
  type Lightening,
  lighteningNow,
  tellLightening,
} from '../../../science/whiteness/lightening.ts';
import { followRack } from '../../../science/whiteness/rack-series.ts';
import type { RackShots } from '../../../stock/rack-photographs/measures.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';

/** Photographs older than this no longer ask for anything, days (own choice: what they showed has been seen since, or has passed). */
const FRESH_DAYS = 60;

/** A rack as its photographs follow it, worked out once for the same photographs. */
export const followed = memoize(({ shots }: RackShots) => followRack(shots));

/** A lot that is lighter than its own line, or enough so to stay told. */
export interface Lightened {
  judged: Lightening;
  status: 'fires' | 'stays';
  rack: RackShots;
}

/** A lot against its own line by the photographs of the rack it stands on; null where that cannot be told, or not of late. */
export function judgedOf(
  { photographs }: Pick<SystemFacts, 'photographs'>,
  lot: LotFact,
  asked: Asked,
  now: Date,
): { judged: Lightening; rack: RackShots } | null {
  const rack = photographs.find(({ rackId }) => rackId === lot.rackId);
  if (rack === undefined) return null;
  const series = followed(rack);
  const wellDays = lot.conditions.filter(({ state }) => state === 'well').map(({ day }) => day);
  const judged = lighteningNow(
    series,
    series.lots.get(lot.id) ?? [],
    { cutDay: lot.cutDay, wellDays },
    asked,
  );
  return typeof judged === 'string' || dayOf(now) - judged.days[1] > FRESH_DAYS ? null : { judged, rack };
}

/** A lot whose lightening is told, or stays told. */
export function lightenedOf(
  facts: Pick<SystemFacts, 'photographs'>,
  lot: LotFact,
  asked: Asked,
  now: Date,
): Lightened | null {
  const found = judgedOf(facts, lot, asked, now);
  if (found === null) return null;
  const told = tellLightening(found.judged, asked);
  return told === 'not told' ? null : { ...found, status: told === 'told' ? 'fires' : 'stays' };
}

/** The key under which a lot's lightening is told. */
export const lighteningKey = (lotId: string): FindingKey => ({
  rule: 'lightening',
  subject: { type: 'lot', id: lotId },
  facet: '',
});
