import type { SystemQuantity } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { holdToSeen, type Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import type { FieldError } from '../../platform/views/page.ts';
import { inputNumber } from '../../platform/words/numbers.ts';
import { convert } from '../../science/units.ts';
import { bandQuestion, figureQuestion } from '../entry/figures.rules.ts';
import { inputValue, type Quantity } from '../quantities/quantities.ts';
import { lockOpenWaterSystem } from '../systems/systems.ts';
import {
  fieldWords,
  type TargetField,
  type TargetRow,
  targetFields,
  targetInputName,
} from './targets.schema.ts';

/** The column of each figure. */
const columnOf = { low: 'bandLow', high: 'bandHigh', limit: 'limitHigh', makeUp: 'makeUp' } as const;

/** The targets of a system by quantity code. */
export async function listTargets(db: Reader, systemId: string): Promise<Map<string, SystemQuantity>> {
  const rows = await db.systemQuantity.findMany({ where: { systemId } });
  return new Map(rows.map((row) => [row.quantityCode, row]));
}

/** A stored figure as the form shows it. */
export function targetFormValue(
  quantity: Quantity,
  target: SystemQuantity | undefined,
  field: TargetField,
): string {
  return inputValue(quantity, target?.[columnOf[field]] ?? null);
}

/** The targets as a form's `seen` tells them apart. */
export const targetsSeen = (targets: ReadonlyMap<string, SystemQuantity>): unknown =>
  [...targets.values()].toSorted((a, b) => a.quantityCode.localeCompare(b.quantityCode)).map(inOrder);

/** What confirming the bands of a system, or taking what is proposed, is said of. */
export const targetsStanding = (systemId: string): Standing => ({
  what: 'what this system keeps',
  read: async (reader) => targetsSeen(await listTargets(reader, systemId)),
});

/** The figures of a row, always in one order. */
const inOrder = ({
  quantityCode,
  bandLow,
  bandHigh,
  limitHigh,
  makeUp,
  source,
  starting,
}: SystemQuantity) => [...[quantityCode, bandLow, bandHigh, limitHigh], ...[makeUp, source, starting]];

/**
 * Sets the targets of a system. Rows left empty are removed; a figure typed as it was shown keeps its exact value.
 * @param seen what the form was drawn from, by `targetsSeen`; empty where it is not held to any
 * @throws Refusal naming the field: ends in the wrong order, or no word on where a figure comes from; 409 on a stale edit
 */
export async function setTargets(
  work: Work,
  systemId: string,
  rows: ReadonlyMap<string, TargetRow>,
  quantities: readonly Quantity[],
  seen = '',
): Promise<{ changed: number }> {
  const system = await lockOpenWaterSystem(work.tx, systemId);
  const before = await listTargets(work.tx, systemId);
  holdToSeen(seen, targetsSeen(before), `what ${system.name} keeps`);
  checkRows(rows, quantities);
  askAbout(rows, quantities, before, await lastLevels(work.tx, systemId));
  const stated = quantities.flatMap((quantity) => {
    const row = rows.get(quantity.code);
    return row === undefined ? [] : [targetOf(systemId, quantity, row, before.get(quantity.code))];
  });
  const changed = stated.filter(
    (one) => JSON.stringify(one) !== JSON.stringify(inSameOrder(before.get(one.quantityCode), one)),
  );
  const codes = changed.map((one) => one.quantityCode);
  await work.tx.systemQuantity.deleteMany({ where: { systemId, quantityCode: { in: codes } } });
  await work.tx.systemQuantity.createMany({ data: changed.filter(hasFigure) });
  const replaced = codes.map((code) => before.get(code) ?? null);
  work.record(
    'targets.changed',
    { type: 'system', id: systemId },
    { system: system.name, before: replaced, after: changed },
  );
  work.reevaluate(systemId);
  return { changed: changed.length };
}

/** @throws Refusal naming every field that is wrong */
function checkRows(rows: ReadonlyMap<string, TargetRow>, quantities: readonly Quantity[]): void {
  const errors = [...rows].flatMap(([code, row]): FieldError[] => {
    const name = quantities.find((quantity) => quantity.code === code)?.name ?? code;
    const { low, high, limit, source } = row;
    if (low !== null && high !== null && low > high)
      return [
        {
          field: targetInputName(code, 'high'),
          message: `${name}: the two ends are the wrong way round: ${low} is more than ${high}. Swap them, or correct the one that is mistyped.`,
        },
      ];
    if (limit !== null && high !== null && limit < high)
      return [
        {
          field: targetInputName(code, 'limit'),
          message: `${name}: the limit must be at least the band's upper end, ${high}.`,
        },
      ];
    const isStated = targetFields.some((field) => row[field] !== null);
    if (isStated && source === '')
      return [
        {
          field: targetInputName(code, 'source'),
          message: `${name}: say where it comes from, like "our own choice" or a book and page.`,
        },
      ];
    return [];
  });
  if (errors.length > 0) throw new Refusal(errors[0]?.message ?? '', { fields: errors });
}

/**
 * Asks about figures that are not usual, once: a row that is sure is taken as it is, and one that was not changed is not
 * asked about again.
 * @throws Refusal at "<quantity>-sure"
 */
function askAbout(
  rows: ReadonlyMap<string, TargetRow>,
  quantities: readonly Quantity[],
  before: ReadonlyMap<string, SystemQuantity>,
  levels: ReadonlyMap<string, number>,
): void {
  const errors = quantities.flatMap((quantity): FieldError[] => {
    const row = rows.get(quantity.code);
    if (row === undefined || row.sure) return [];
    const question = rowQuestion(quantity, row, before.get(quantity.code), levels.get(quantity.code) ?? null);
    return question === null
      ? []
      : [{ field: targetInputName(quantity.code, 'sure'), message: `${quantity.name}: ${question}` }];
  });
  if (errors.length > 0) throw new Refusal(errors[0]?.message ?? '', { fields: errors });
}

function rowQuestion(
  quantity: Quantity,
  row: TargetRow,
  before: SystemQuantity | undefined,
  level: number | null,
): string | null {
  const changed = targetFields.filter(
    (field) =>
      row[field] !== null &&
      targetFormValue(quantity, before, field) !== inputNumber(row[field], quantity.decimals + 1),
  );
  for (const field of changed) {
    const value = row[field] ?? 0;
    // Make-up water may hold nothing of it at all.
    if (field === 'makeUp' && value === 0) continue;
    const known = field === 'makeUp' ? null : level;
    const context = { level: known, before: before?.[columnOf[field]] ?? null };
    const question = figureQuestion(quantity, { name: fieldWords[field], value }, context);
    if (question !== null) return question;
  }
  if (row.low === null || row.high === null || !changed.some((field) => field === 'low' || field === 'high'))
    return null;
  const canonical = (value: number) =>
    convert(quantity.code, value, quantity.displayUnit, quantity.canonicalUnit);
  return bandQuestion(quantity, canonical(row.low), canonical(row.high));
}

/** The newest trusted reading of each quantity, canonical. One query. */
async function lastLevels(tx: Work['tx'], systemId: string): Promise<Map<string, number>> {
  const rows = await tx.$queryRaw<{ code: string; value: number }[]>`
    SELECT DISTINCT ON (quantity_code) quantity_code AS code, value FROM reading_with_vote
     WHERE system_id = ${systemId}::uuid AND voided_at IS NULL AND slot_id IS NULL AND NOT below_detection AND NOT above_scale
       AND trust IN ('plain', 'confirmed')
     ORDER BY quantity_code, at DESC`;
  return new Map(rows.map(({ code, value }) => [code, value]));
}

function targetOf(
  systemId: string,
  quantity: Quantity,
  row: TargetRow,
  before: SystemQuantity | undefined,
): SystemQuantity {
  const canonical = (field: TargetField): number | null => {
    const typed = row[field];
    if (typed === null) return null;
    const shownBefore = targetFormValue(quantity, before, field);
    if (before && shownBefore !== '' && Number(shownBefore) === typed) return before[columnOf[field]];
    return convert(quantity.code, typed, quantity.displayUnit, quantity.canonicalUnit);
  };
  const figures = {
    bandLow: canonical('low'),
    bandHigh: canonical('high'),
    limitHigh: canonical('limit'),
    makeUp: canonical('makeUp'),
  };
  return {
    systemId,
    quantityCode: quantity.code,
    ...figures,
    source: row.source,
    starting: staysStarting(before, figures, row.source),
  };
}

/** A starting band stays one until somebody changes an end or says another source. */
const staysStarting = (
  before: SystemQuantity | undefined,
  { bandLow, bandHigh }: { bandLow: number | null; bandHigh: number | null },
  source: string,
): boolean =>
  before?.starting === true &&
  before.bandLow === bandLow &&
  before.bandHigh === bandHigh &&
  before.source === source;

/** The stored row with its columns in the order of the new one, so that the two compare as text; empty figures for no row. */
function inSameOrder(row: SystemQuantity | undefined, like: SystemQuantity): SystemQuantity {
  const { systemId, quantityCode } = like;
  const { bandLow = null, bandHigh = null, limitHigh = null, makeUp = null, source = '' } = row ?? {};
  return {
    systemId,
    quantityCode,
    bandLow,
    bandHigh,
    limitHigh,
    makeUp,
    source,
    starting: row?.starting ?? false,
  };
}

const hasFigure = (row: SystemQuantity) =>
  [row.bandLow, row.bandHigh, row.limitHigh, row.makeUp].some((figure) => figure !== null);
