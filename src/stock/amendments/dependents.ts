import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** What areas above the stock built on a lot's record since a time: a sentence each, that says what to do. */
export type DependsOnLot = (reader: SqlReader, lotId: string, since: Date) => Promise<string[]>;
