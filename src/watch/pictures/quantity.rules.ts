import type { Alert } from '../../alerts/alerts.ts';

/** What the water is judged by, for rules that are about one quantity whatever their facet says. */
const quantityOfRule: Readonly<Record<string, string>> = {
  'alkalinity-falling': 'alkalinity',
  'alkalinity-unsteady': 'alkalinity',
  'demand-changed': 'alkalinity',
  'calcium-alkalinity': 'calcium',
  precipitation: 'alkalinity',
  saturation: 'alkalinity',
  'nitrate-creep': 'nitrate',
  ammonia: 'ammonia',
  'heat-stress': 'temperature',
};

/** Rules whose facet is the code of a quantity, or begins with it. */
const byFacet: ReadonlySet<string> = new Set([
  'out-of-band',
  'sinking-fast',
  'warming-fast',
  'moving-together',
  'overdose',
  'kit-missing',
  'sources-differ',
]);

/** The quantity whose course tells most about an alert on water; null where it is about none. */
export function quantityOfAlert({ rule, facet }: Pick<Alert, 'rule' | 'facet'>): string | null {
  if (rule === 'nitrate-level') return facet === 'no phosphorus' ? 'phosphate' : 'nitrate';
  return quantityOfRule[rule] ?? (byFacet.has(rule) ? (facet.split(' ')[0] ?? null) : null);
}
