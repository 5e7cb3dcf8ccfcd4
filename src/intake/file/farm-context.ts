import type { Reader } from '../../platform/service.ts';
import { type InstrumentCatalog, loadInstrumentCatalog } from '../../water/kits/instruments.ts';
import { listQuantities } from '../../water/quantities/quantities.ts';

/** What the farm knows that a file may speak of. */
export interface FarmContext {
  now: Date;
  timeZone: string;
  systems: { id: string; name: string }[];
  instruments: InstrumentCatalog;
}

/** Everything a file may speak of: a fixed number of queries. Retired systems are known too: a file may hold history. */
export async function loadFarmContext(
  db: Reader,
  site: { id: string; timeZone: string },
  now: Date,
): Promise<FarmContext> {
  const [systems, quantities] = await Promise.all([
    db.system.findMany({
      where: { siteId: site.id },
      select: { id: true, name: true },
      orderBy: [{ retiredAt: { sort: 'asc', nulls: 'first' } }, { position: 'asc' }, { name: 'asc' }],
    }),
    listQuantities(db),
  ]);
  const instruments = await loadInstrumentCatalog(
    db,
    quantities.map((quantity) => quantity.code),
  );
  return { now, timeZone: site.timeZone, systems, instruments };
}
