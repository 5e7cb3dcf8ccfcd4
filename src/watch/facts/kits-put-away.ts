import type pg from 'pg';
import { groupBySystem } from './group-by-system.ts';
import { before, type Span } from './history.ts';
import { sqlMs, timeOf, withTime } from './times.ts';
import type { KitPutAwayFact } from './types.ts';

/** A kit put away longer ago than this has been replaced, or the quantity is not tested any more. */
const rememberedDays = 60;

interface Row extends Omit<KitPutAwayFact, 'day' | 'at' | 'others'> {
  systemId: string;
  ms: number;
  others: (Omit<KitPutAwayFact['others'][number], 'openedDay'> & { openedMs: number })[];
}

// Probes and laboratories are no kits of the cupboard.
const query = `
  SELECT used.system_id AS "systemId", kit.id, kit.label, method.quantity_code AS "quantityCode", ${sqlMs('kit.retired_at')},
         coalesce((SELECT json_agg(json_build_object('id', other.id, 'label', other.label,
                                     'openedMs', date_part('epoch', other.opened_at) * 1000,
                                     'tested', (SELECT count(*) FROM check_reading WHERE kit_id = other.id AND voided_at IS NULL AND at <= $3)
                                             + (SELECT count(*) FROM kit_pair WHERE kit_id = other.id AND voided_at IS NULL AND at <= $3),
                                     'usedHere', EXISTS (SELECT 1 FROM reading WHERE kit_id = other.id AND reading.system_id = used.system_id
                                                            AND at > $2 AND at <= $3 AND voided_at IS NULL))
                                   ORDER BY other.opened_at DESC, other.id)
                     FROM kit AS other JOIN method AS way ON way.id = other.method_id
                    WHERE way.quantity_code = method.quantity_code AND way.every_minutes IS NULL AND way.laboratory = ''
                      AND other.id <> kit.id AND other.opened_at <= $3 AND (other.retired_at IS NULL OR other.retired_at > $3)), '[]') AS others
    FROM kit JOIN method ON method.id = kit.method_id AND method.every_minutes IS NULL AND method.laboratory = ''
   CROSS JOIN LATERAL (
     SELECT asked.id AS system_id FROM unnest($1::uuid[]) AS asked(id)
      WHERE EXISTS (SELECT 1 FROM reading WHERE kit_id = kit.id AND reading.system_id = asked.id AND at > kit.retired_at - interval '30 days'
                       AND at <= $3 AND voided_at IS NULL)) AS used
   WHERE kit.retired_at > $2 AND kit.retired_at <= $3
   ORDER BY kit.retired_at, kit.id`;

/** The kits put away within the last 60 days that were used in a system until then, by system. */
export async function loadKitsPutAway(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, KitPutAwayFact[]>> {
  const { rows } = await pool.query<Row>(query, [systemIds, before(span, rememberedDays), span.now]);
  return groupBySystem(rows, ({ others, ...row }) => ({
    ...withTime(row),
    others: others.map(({ openedMs, ...other }) => ({ ...other, openedDay: timeOf(openedMs).day })),
  }));
}
