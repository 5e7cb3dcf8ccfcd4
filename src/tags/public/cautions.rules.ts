import type { TagRecord } from '../record/record.ts';

/** Said to who cuts corals or keeps their papers; a buyer has no use for it beside the first days. */
const growers = /^Cut\b|\bCITES\b/;

/**
 * What a record warns of, as far as it concerns a buyer: poison, sting, neighbours, care. Sentences on cutting and on papers
 * are left to the record itself; what the farm wrote in its own words stays.
 */
export function buyerCautions({ cautions }: TagRecord): string[] {
  return cautions
    .map((caution) =>
      caution
        .split(/(?<=\.)\s+/)
        .filter((sentence) => !growers.test(sentence))
        .join(' '),
    )
    .filter((caution) => caution !== '');
}
