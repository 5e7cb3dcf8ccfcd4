import { z } from 'zod';

/** Raised when an older service could no longer read what a newer one writes. */
export const archiveFormat = 1;

/** The first entry: what the archive is of. */
export const headSchema = z.object({
  format: z.number(),
  madeAt: z.iso.datetime(),
  farm: z.string(),
  migrations: z.array(z.string()),
});
export type Head = z.output<typeof headSchema>;

/** The last entry: what the archive holds. Without it the archive was cut off. */
export const contentsSchema = z.object({
  tables: z.array(
    z.object({
      name: z.string(),
      columns: z.array(z.string()),
      order: z.array(z.string()),
      rows: z.number(),
      bytes: z.number(),
      /** SHA-256 of all rows in the order of `order`. */
      sha256: z.string(),
    }),
  ),
});
export type Contents = z.output<typeof contentsSchema>;
export type ArchivedTable = Contents['tables'][number];

export const headName = 'evenwater-backup.json';
export const contentsName = 'contents.json';
export const readMeName = 'READ-ME.txt';
export const tablePart = (table: string, part: number) =>
  `tables/${table}/${String(part).padStart(6, '0')}.copy`;
export const partPattern = /^tables\/([a-z_]+)\/\d+\.copy$/;
