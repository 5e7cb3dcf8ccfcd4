import { change } from '../../src/platform/change.ts';
import { localDay } from '../../src/platform/days.ts';
import type { Service } from '../../src/platform/service.ts';
import { convert } from '../../src/science/units.ts';
import { correctableQuantity, planCorrection } from '../../src/water/corrections/corrections.ts';
import { readStartingPoint } from '../../src/water/corrections/draft.ts';
import { findWaterSystem } from '../../src/water/systems/systems.ts';
import { dkh } from './planted.ts';

/** By how much alkalinity is lifted, and by how much a day, dKH. */
const LIFT = 0.7;
const A_DAY = 0.25;

/**
 * A correction in the first quiet system whose alkalinity two tests agree on, planned this morning: its first step is
 * due today, nothing of it is done yet.
 */
export async function beginCorrection(service: Service): Promise<void> {
  const { db, pool } = service;
  const now = service.now();
  const site = await db.site.findFirstOrThrow({ orderBy: { createdAt: 'asc' } });
  const manager = await db.account.findFirstOrThrow({ where: { role: 'manager' } });
  const { rows } = await pool.query<{ id: string }>(
    `SELECT id FROM system WHERE site_id = $1 AND NOT EXISTS (SELECT 1 FROM open_alert WHERE system_id = system.id) ORDER BY position`,
    [site.id],
  );
  const quantity = await correctableQuantity(db, 'alkalinity');
  for (const { id } of rows) {
    const system = await findWaterSystem(db, id);
    const { standing } = await readStartingPoint(pool, system, site.timeZone, quantity, now);
    if (standing.kind !== 'confirmed') continue;
    const read = convert('alkalinity', standing.reading.value, 'meq/L', 'dKH');
    await change(service, { accountId: manager.id }, (work) =>
      planCorrection(work, {
        systemId: id,
        quantityCode: 'alkalinity',
        means: 'sodium-bicarbonate',
        stated: { purity: 1, solution: null, limewater: null, makeUp: null },
        target: convert('alkalinity', Math.round((read + LIFT) * 2) / 2, 'dKH', 'meq/L'),
        dailyCap: dkh(A_DAY),
        startsOn: localDay(now, site.timeZone),
        reason: 'To where the other halls stand, slowly',
        capReason: '',
        seen: null,
        revises: null,
      }),
    );
    return;
  }
}
