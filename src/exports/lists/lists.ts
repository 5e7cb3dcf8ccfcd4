import { farmLists } from './farm-lists.ts';
import type { ExportedList } from './list.ts';
import { stockLists } from './stock-lists.ts';
import { waterLists } from './water-lists.ts';
import { workLists } from './work-lists.ts';

/** Every list that goes out, as its page shows them. */
export const listGroups: readonly { title: string; lists: readonly ExportedList[] }[] = [
  { title: 'Stock', lists: stockLists },
  { title: 'Water', lists: waterLists },
  { title: 'Farm', lists: farmLists },
  { title: 'Rounds, alerts, tags and people', lists: workLists },
];

const bySlug = new Map(listGroups.flatMap(({ lists }) => lists.map((list) => [list.slug, list] as const)));

/** The list of this name; null where there is none. */
export const findList = (slug: string): ExportedList | null => bySlug.get(slug) ?? null;
