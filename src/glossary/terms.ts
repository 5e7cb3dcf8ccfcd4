import { lightTerms } from './terms/light.ts';
import { stockTerms } from './terms/stock.ts';
import type { Term } from './terms/term.ts';
import { testTerms } from './terms/tests.ts';
import { waterTerms } from './terms/water.ts';
import { workTerms } from './terms/work.ts';

/** The glossary by subject, each subject in the order of the alphabet. */
export const glossary: readonly { subject: string; terms: readonly Term[] }[] = [
  { subject: 'Alerts and work', terms: sorted(workTerms) },
  { subject: 'Light', terms: sorted(lightTerms) },
  { subject: 'Stock and sales', terms: sorted(stockTerms) },
  { subject: 'Tests', terms: sorted(testTerms) },
  { subject: 'Water', terms: sorted(waterTerms) },
];

function sorted(terms: readonly Term[]): readonly Term[] {
  return [...terms].sort((a, b) => a.name.localeCompare(b.name, 'en'));
}
