import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { many, tick } from '../../platform/web/fields.ts';
import { ticksOf } from '../../stock/base/ticks.ts';
import { lotQuerySchema } from '../../stock/lots/lots.schema.ts';
import { findLots } from '../../stock/lots/search.ts';
import { lotsOfRacks } from '../../stock/places/occupants.ts';
import { readyLots } from '../../stock/sales/ready.ts';

/** The most lots on one paper list (own choice): so many fit on some fifteen pages. */
export const MOST_ON_PAPER = 300;

/** What a paper list is made of: racks, ticked lots, the lots that are ready to sell, or what a search of the stock finds. */
const paperSchema = z.object({
  rack: many().pipe(z.array(z.uuid())).catch([]),
  ready: tick().catch(false),
});

/** The lots of a paper list in their order, and the racks that are drawn on it. */
export async function listedCodes(
  service: Service,
  site: { id: string; timeZone: string },
  asked: unknown,
): Promise<{ codes: string[]; rackIds: string[] }> {
  const { rack, ready } = paperSchema.parse(asked ?? {});
  const ticked = ticksOf(asked);
  if (ticked.length > 0) return { codes: ticked, rackIds: [] };
  if (rack.length > 0) {
    const lots = await lotsOfRacks(service.pool, rack);
    return { codes: lots.map(({ code }) => code), rackIds: rack };
  }
  const now = service.now();
  if (ready) {
    const all = await readyLots(service.pool, site.id, now);
    return { codes: all.map(({ code }) => code), rackIds: [] };
  }
  const { q, only, group } = lotQuerySchema.parse(asked ?? {});
  const query = { siteId: site.id, text: q, only, groupId: group, perPage: MOST_ON_PAPER + 1 };
  const { lots } = await findLots(service.pool, query, now);
  return { codes: lots.map(({ code }) => code), rackIds: [] };
}
