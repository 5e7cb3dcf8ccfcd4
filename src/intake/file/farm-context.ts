import type { Reader } from '../../platform/service.ts';
import { type InstrumentCatalog, loadInstrumentCatalog } from '../../water/kits/instruments.ts';
import { listQuantities } from '../../water/quantities/quantities.ts';

/** The systems, quantities, methods and kits of the farm: what the names in a file are looked up in. */
export interface FarmContext {
  now: Date;
  timeZone: string;
  systems: { id: string; name: string }[];
  instruments: InstrumentCatalog;
}

/** Loads what a file may name. A fixed number of queries. Retired systems too, since a file may hold their history. */
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
