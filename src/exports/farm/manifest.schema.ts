import { z } from 'zod';

/** Raised when an older service could no longer read what a newer one writes. */
export const farmFormat = 1;

export const manifestName = 'manifest.json';
export const readMeName = 'README.txt';
export const dataName = (table: string) => `data/${table}.jsonl`;
export const sheetName = (table: string) => `csv/${table}.csv`;

/** Every name that a farm's archive can hold: nothing else is taken, and nothing leads out of it. */
export const knownName =
  /^(README\.txt|manifest\.json|data\/[a-z_]+\.jsonl|csv\/[a-z_]+\.csv|(photos|photos\/small|files|imports|marks)\/[0-9a-f-]{36}\.(jpg|pdf|txt|png))$/;

/** What the archive of a farm says of itself: when and of what it was made, and what each of its files is. */
export const manifestSchema = z.object({
  service: z.literal('Evenwater'),
  holds: z.literal('farm'),
  format: z.int(),
  madeAt: z.iso.datetime(),
  sites: z.array(z.object({ name: z.string(), timeZone: z.string() })),
  /** The migrations that made the tables what they are. */
  migrations: z.array(z.string()),
  tables: z.array(z.object({ name: z.string(), rows: z.int() })),
  files: z.array(z.object({ name: z.string(), bytes: z.int(), sha256: z.string().regex(/^[0-9a-f]{64}$/) })),
});
export type Manifest = z.output<typeof manifestSchema>;

/** How many rows an archive holds. */
export const rowsOf = ({ tables }: Manifest): number => tables.reduce((sum, { rows }) => sum + rows, 0);
