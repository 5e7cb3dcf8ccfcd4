import type { Finding } from '../../alerts/finding.ts';

/** The page of steps for water that is out on one side, by quantity; what the pages tell of as a person sees it. */
const byQuantity: Readonly<Record<string, Partial<Record<'below' | 'above', string>>>> = {
  temperature: { below: 'cold', above: 'warm' },
  ph: { below: 'ph-falls' },
  oxygen: { below: 'oxygen' },
  salinity: { below: 'salinity', above: 'salinity' },
  alkalinity: { below: 'alkalinity' },
  ammonia: { above: 'ammonia' },
  copper: { above: 'contamination' },
};

const byRule: Readonly<Record<string, string>> = {
  'warming-fast': 'warm',
  'heat-stress': 'warm',
  ammonia: 'ammonia',
  overdose: 'overdose',
  'tissue-loss': 'tissue',
};

type Told = Pick<Finding, 'rule' | 'facet' | 'side'>;

/**
 * The code of the page under "Report trouble" whose steps are those for an alert, "warm"; null where no single page is, so
 * that whoever stands there chooses by what they see; of alerts from before their side was kept too.
 */
export function troubleOf({ rule, facet, side }: Told): string | null {
  if (rule === 'sinking-fast' && facet === 'temperature') return 'cold';
  if (rule !== 'out-of-band') return byRule[rule] ?? null;
  return (side === undefined ? null : byQuantity[facet]?.[side]) ?? null;
}

/** Where those steps are, with the system of the alert put first. */
export const troubleHref = (told: Told, systemId: string): string => {
  const code = troubleOf(told);
  return code === null ? '/emergencies' : `/emergencies/events/${code}?system=${systemId}`;
};
