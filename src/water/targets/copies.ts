import { type CopiedTo, somethingCopied, type ToSystems } from '../../farm/systems/copies.schema.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { findOpenWaterSystem } from '../systems/systems.ts';

const hasFigure = {
  OR: [
    { bandLow: { not: null } },
    { bandHigh: { not: null } },
    { limitHigh: { not: null } },
    { makeUp: { not: null } },
  ],
};

/** What a copy of targets may replace: what every system of a site keeps. */
export const siteTargetsStanding = (siteId: string): Standing => ({
  what: 'what a system keeps',
  read: ({ systemQuantity }) => {
    const orderBy = [{ systemId: 'asc' }, { quantityCode: 'asc' }] as const;
    return systemQuantity.findMany({ where: { system: { siteId } }, orderBy: [...orderBy] });
  },
});

/** The names of the quantities that systems have a target of. */
export async function targetNames(db: Reader, systemIds: readonly string[]): Promise<Map<string, string[]>> {
  const rows = await db.systemQuantity.findMany({
    where: { systemId: { in: [...systemIds] }, ...hasFigure },
    orderBy: { quantity: { position: 'asc' } },
    select: { systemId: true, quantity: { select: { name: true } } },
  });
  const bySystem = Map.groupBy(rows, ({ systemId }) => systemId);
  return new Map([...bySystem].map(([id, own]) => [id, own.map(({ quantity }) => quantity.name)]));
}

/**
 * Sets the targets of one system for others as well, each figure with its source. What is there already is left alone or
 * replaced; a band that nobody chose (a starting one) is always replaced.
 * @throws Refusal 404; 422 when it has none, or a system is retired
 */
export async function copyTargets(
  work: Work,
  fromId: string,
  { systems, there }: ToSystems,
): Promise<CopiedTo[]> {
  const from = await findOpenWaterSystem(work.tx, fromId);
  const targets = await work.tx.systemQuantity.findMany({
    where: { systemId: fromId, ...hasFigure },
    include: { quantity: { select: { name: true } } },
  });
  if (targets.length === 0) throw new Refusal(`${from.name} has no targets to copy.`, { field: 'systems' });
  const done: CopiedTo[] = [];
  for (const systemId of systems.filter((id) => id !== fromId)) {
    const system = await findOpenWaterSystem(work.tx, systemId);
    const before = await work.tx.systemQuantity.findMany({ where: { systemId, ...hasFigure } });
    const kept = new Set(
      there === 'leave' ? before.filter(({ starting }) => !starting).map((one) => one.quantityCode) : [],
    );
    const copied = targets.filter(({ quantityCode }) => !kept.has(quantityCode));
    const after = copied.map(({ quantity: _, ...row }) => ({ ...row, systemId, starting: false }));
    const codes = after.map(({ quantityCode }) => quantityCode);
    await work.tx.systemQuantity.deleteMany({ where: { systemId, quantityCode: { in: codes } } });
    await work.tx.systemQuantity.createMany({ data: after });
    const replaced = before.filter(({ quantityCode }) => codes.includes(quantityCode));
    if (after.length > 0)
      work.record(
        'targets.changed',
        { type: 'system', id: systemId },
        { system: system.name, copyOf: from.name, before: replaced, after },
      );
    work.reevaluate(systemId);
    const left = targets
      .filter(({ quantityCode }) => kept.has(quantityCode))
      .map(({ quantity }) => quantity.name);
    done.push({ system: system.name, copied: after.length, left });
  }
  return somethingCopied(done);
}
