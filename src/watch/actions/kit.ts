import type pg from 'pg';
import type { Alert } from '../../alerts/alerts.ts';
import { askForLook } from '../../farm/looks/looks.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { openKit, retireKit } from '../../water/kits/kits.ts';

/** A kit that takes the place of another: its name filled in. */
export interface KitOffer {
  doing: 'kit';
  quantity: string;
  /** The kit that is put away; null where none is in use. */
  old: { id: string; label: string } | null;
  methodId: string;
  label: string;
}

interface Row {
  id: string;
  label: string;
  methodId: string;
  quantity: string;
  inUse: boolean;
  taken: string[];
}

// Of one kit, or the kit of a quantity that was read with last in a system.
const query = `
  SELECT kit.id, kit.label, kit.method_id AS "methodId", quantity.name AS quantity, kit.retired_at IS NULL AS "inUse",
         (SELECT array_agg(label) FROM kit AS other WHERE other.method_id = kit.method_id) AS taken
    FROM kit JOIN method ON method.id = kit.method_id JOIN quantity ON quantity.code = method.quantity_code
   WHERE kit.id = $1 OR (method.quantity_code = $2 AND EXISTS (SELECT 1 FROM reading WHERE reading.kit_id = kit.id AND reading.system_id = $3))
   ORDER BY kit.id = $1 DESC, kit.opened_at DESC LIMIT 1`;

/** The next kit after the one that an alert is about; null where no kit was ever used. One query. */
export async function kitOffer(
  { pool }: { pool: pg.Pool },
  alert: Alert,
  quantityCode: string | null,
): Promise<KitOffer | null> {
  const { rows } = await pool.query<Row>(query, [alert.subjectId, quantityCode, alert.systemId]);
  const [kit] = rows;
  if (kit === undefined) return null;
  const { id, label, methodId, quantity, inUse, taken } = kit;
  return {
    doing: 'kit',
    quantity,
    methodId,
    old: inUse ? { id, label } : null,
    label: nextLabel(label, taken),
  };
}

/** "Alkalinity, Brood room, set 3" -> "Alkalinity, Brood room, set 4"; a name without a number gets " 2". */
export function nextLabel(label: string, taken: readonly string[]): string {
  const [, name = label, number] = /^(.*?)(\d+)$/.exec(label) ?? [];
  const stem = number === undefined ? `${label} ` : name;
  let next = number === undefined ? 2 : Number(number) + 1;
  while (taken.includes(`${stem}${next}`)) next += 1;
  return `${stem}${next}`;
}

/** What is sent: the new kit, whether the old one goes out of use, whether both are tested beside each other. */
export interface NextKit {
  methodId: string;
  label: string;
  lotNumber: string;
  oldKitId: string | null;
  putAway: boolean;
  tests: boolean;
}

/** Opens the next kit, puts the old one away, and asks on the round for three tests of one sample with both. */
export async function openNextKit(
  work: Work,
  { systemId }: Pick<Alert, 'systemId'>,
  { methodId, label, lotNumber, oldKitId, putAway, tests }: NextKit,
): Promise<{ id: string }> {
  const there = await work.tx.kit.count({ where: { methodId, label } });
  if (there > 0)
    throw new Refusal('A kit of this name is there already. Choose another name.', { field: 'label' });
  const { id } = await openKit(work, {
    ...{ methodId, label, lotNumber },
    ...{ openedAt: work.now, expiresOn: null, uses: null },
  });
  const old = oldKitId === null ? null : await work.tx.kit.findUnique({ where: { id: oldKitId } });
  if (old !== null && putAway && old.retiredAt === null) await retireKit(work, old.id, work.now);
  if (tests)
    await askForLook(work, {
      ...{ systemId, key: `kit tests:${id}`, href: `/water/kits/${id}`, dueAt: work.now, urgent: false },
      title: `Test one sample three times with ${label}`,
      detail:
        old === null
          ? 'Or a standard, three times. Enter them on its page.'
          : `And three times with ${old.label}. Enter each pair on its page.`,
    });
  return { id };
}
