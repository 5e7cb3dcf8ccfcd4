import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { KitDetails } from './kits.schema.ts';
import { touchSystemsOf } from './kits.ts';

/** When a kit was used first and last: readings, checks and pairs that count. */
async function usesOf(work: Work, kitId: string): Promise<{ first: Date | null; last: Date | null }> {
  const [uses] = await work.tx.$queryRaw<{ first: Date | null; last: Date | null }[]>`
    SELECT min(at) AS first, max(at) AS last FROM (
      SELECT at FROM reading WHERE kit_id = ${kitId}::uuid AND voided_at IS NULL
      UNION ALL SELECT at FROM check_reading WHERE kit_id = ${kitId}::uuid AND voided_at IS NULL
      UNION ALL SELECT at FROM kit_pair WHERE ${kitId}::uuid IN (kit_id, old_kit_id) AND voided_at IS NULL) AS used`;
  return uses ?? { first: null, last: null };
}

/**
 * Corrects what was entered of a kit: its name, number, when it was opened, until when it is good and for how many tests.
 * Whether it reads right is then judged anew.
 * @throws Refusal 404; 409 on a stale edit; 422 where it was used before it was opened
 */
export async function editKit(work: Work, id: string, { version, ...details }: KitDetails): Promise<void> {
  const kit = await work.tx.kit.findUnique({ where: { id } });
  if (kit === null) throw notFound('This kit');
  const { first } = await usesOf(work, id);
  if (first !== null && details.openedAt > first && details.openedAt > kit.openedAt)
    throw new Refusal(
      'A test was made with it before that. Enter an earlier time, or correct that test first.',
      {
        field: 'openedAt',
      },
    );
  if (kit.retiredAt !== null && details.openedAt >= kit.retiredAt)
    throw new Refusal('It was out of use by then. Enter an earlier time.', { field: 'openedAt' });
  const expiresOn = details.expiresOn === null ? null : new Date(`${details.expiresOn}T00:00:00Z`);
  const uses = details.uses === null ? null : Math.round(details.uses);
  const after = { ...details, expiresOn, uses };
  const data = { ...after, version: { increment: 1 } };
  const changed = await work.tx.kit.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this kit');
  const { label, lotNumber, openedAt } = kit;
  const before = { label, lotNumber, openedAt, expiresOn: kit.expiresOn, uses: kit.uses };
  work.record('kit.changed', { type: 'kit', id }, { label, before, after });
  await touchSystemsOf(work, id);
}
