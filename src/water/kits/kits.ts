import type pg from 'pg';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { parseEntry } from '../entry/entry.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import type { Quantity } from '../quantities/quantities.ts';
import type { CheckInput, KitInput, PairInput } from './kits.schema.ts';
import { useCounts } from './use-counts.ts';

interface KitRow {
  id: string;
  label: string;
  lotNumber: string;
  quantityCode: string;
  method: string;
  openedAt: Date;
  /** Calendar day, "2027-03-01". */
  expiresOn: string | null;
  retiredAt: Date | null;
  checks: number;
  lastCheckAt: Date | null;
  meanError: number | null;
  uses: number | null;
  pairs: number;
}

/**
 * A kit as the list shows it; `meanError` is the mean of its checks less their standards, canonical unit. `uses`: tests it is
 * good for, null where nobody counts; `used`: those made with it (readings, checks, pairs).
 */
export interface KitListRow extends Omit<KitRow, 'pairs'> {
  readings: number;
  used: number;
}

const list = `
  SELECT kit.id, kit.label, kit.lot_number AS "lotNumber", method.quantity_code AS "quantityCode", method.name AS method,
         kit.opened_at AS "openedAt", kit.expires_on::text AS "expiresOn", kit.retired_at AS "retiredAt",
         coalesce(checked.checks, 0)::int AS checks, checked.last AS "lastCheckAt", checked.mean AS "meanError", kit.uses,
         (SELECT count(*)::int FROM kit_pair WHERE kit.id IN (kit_id, old_kit_id) AND voided_at IS NULL) AS pairs
    FROM kit JOIN method ON method.id = kit.method_id JOIN quantity ON quantity.code = method.quantity_code
    LEFT JOIN (SELECT kit_id, count(*) AS checks, max(at) AS last, avg(value - standard_value) AS mean
                 FROM check_reading WHERE voided_at IS NULL GROUP BY kit_id) AS checked ON checked.kit_id = kit.id
   ORDER BY quantity.position, kit.retired_at DESC NULLS FIRST, kit.opened_at DESC, kit.label, kit.id`;

/** Every kit, in bench order, those in use first. Three queries. */
export async function listKits(pool: pg.Pool): Promise<KitListRow[]> {
  const [{ rows }, counts] = await Promise.all([pool.query<KitRow>(list), useCounts(pool)]);
  return rows.map(({ pairs, ...kit }) => {
    const readings = counts.get(kit.id) ?? 0;
    return { ...kit, readings, used: readings + kit.checks + pairs };
  });
}

/** A kit with its method, quantity and checks, newest first. @throws Refusal 404 */
export async function findKit(db: Reader, id: string) {
  const newest = { orderBy: { at: 'desc' as const } };
  const include = {
    method: { include: { quantity: true } },
    checks: newest,
    pairs: { ...newest, include: { oldKit: { select: { id: true, label: true } } } },
  };
  const kit = await db.kit.findUnique({ where: { id }, include });
  if (kit === null) throw notFound('This kit');
  return kit;
}

/** Opens a kit: one bottle set, or one instrument's time between calibrations. */
export async function openKit(work: Work, input: KitInput): Promise<{ id: string }> {
  const method = await work.tx.method.findUnique({
    where: { id: input.methodId },
    include: { quantity: true },
  });
  if (method === null)
    throw new Refusal('Choose the method of the kit from the list.', { field: 'methodId' });
  const expiresOn = input.expiresOn === null ? null : new Date(`${input.expiresOn}T00:00:00Z`);
  const { methodId, label, lotNumber, openedAt } = input;
  const uses = input.uses === null ? null : Math.round(input.uses);
  const { id } = await work.tx.kit.create({
    data: { methodId, label, lotNumber, openedAt, expiresOn, uses, accountId: work.accountId },
  });
  work.record(
    'kit.opened',
    { type: 'kit', id },
    { label, lotNumber, method: method.name, quantity: method.quantity.name },
  );
  await touchSystemsOf(work, id);
  return { id };
}

/** Takes a kit out of use. @throws Refusal 404; 409 when it is out of use already; when that is before it was opened */
export async function retireKit(work: Work, id: string, at: Date): Promise<void> {
  const kit = await findKit(work.tx, id);
  if (kit.retiredAt !== null) throw new Refusal('This kit is out of use already.', { status: 409 });
  if (at <= kit.openedAt)
    throw new Refusal('A kit cannot go out of use before it was opened. Check the time.', { field: 'at' });
  await work.tx.kit.update({ where: { id }, data: { retiredAt: at } });
  work.record('kit.retired', { type: 'kit', id }, { label: kit.label });
  await touchSystemsOf(work, id);
}

/** Keeps a test of a standard of known value with this kit. @throws Refusal */
export async function addCheck(
  work: Work,
  kitId: string,
  input: CheckInput,
): Promise<{ id: string; error: number }> {
  const kit = await findKit(work.tx, kitId);
  if (input.at < kit.openedAt)
    throw new Refusal('The kit was not opened yet at that time. Check the time.', { field: 'at' });
  const read = positiveValue(kit.method.quantity, input.unit);
  const standardValue = read('standard', input.standard);
  const value = read('value', input.value);
  const data = {
    kitId,
    at: input.at,
    standardValue,
    value,
    note: input.note,
    accountId: work.accountId,
    createdAt: work.now,
  };
  const { id } = await work.tx.checkReading.create({ data });
  work.record('check.entered', { type: 'check_reading', id }, { kit: kit.label, standardValue, value });
  await touchSystemsOf(work, kitId);
  return { id, error: value - standardValue };
}

/** Keeps one sample tested with the kit before and with this one. @throws Refusal */
export async function addPair(work: Work, kitId: string, input: PairInput): Promise<{ id: string }> {
  const kit = await findKit(work.tx, kitId);
  const old = await findKit(work.tx, input.oldKitId);
  const { quantity } = kit.method;
  if (old.id === kit.id || old.method.quantity.code !== quantity.code)
    throw new Refusal(`Choose another kit for ${nameInSentence(quantity.name)}.`, { field: 'oldKitId' });
  if (input.at < kit.openedAt || input.at < old.openedAt)
    throw new Refusal('One of the kits was not opened yet at that time. Check the time.', { field: 'at' });
  const read = positiveValue(quantity, input.unit);
  const [oldValue, value] = [read('old', input.old), read('fresh', input.fresh)];
  const { at, note, oldKitId } = input;
  const data = { kitId, oldKitId, at, oldValue, value, note, accountId: work.accountId, createdAt: work.now };
  const { id } = await work.tx.kitPair.create({ data });
  work.record(
    'kit_pair.entered',
    { type: 'kit_pair', id },
    { kit: kit.label, beside: old.label, oldValue, value },
  );
  await touchSystemsOf(work, kitId);
  return { id };
}

/** Reads typed values of a quantity that must be above zero; canonical. */
function positiveValue(quantity: Quantity, unit: string) {
  return (field: string, typed: string): number => {
    const read = parseEntry({ quantityCode: quantity.code, text: typed, unit }, quantity, null);
    if (!read.ok) throw new Refusal(read.message, { field });
    if (read.reading === null) throw new Refusal('Enter a number.', { field });
    if (read.reading.below || read.reading.above)
      throw new Refusal('That needs a value: use water well above what the kit can just detect.', { field });
    return read.reading.value;
  };
}

/**
 * The systems in which the kit's quantity was tested lately have their rules looked at again: a kit that takes the place of
 * another matters where that one was used.
 */
export async function touchSystemsOf(work: Work, kitId: string): Promise<void> {
  const since = daysBefore(work.now, 60);
  const users = await work.tx.$queryRaw<{ systemId: string }[]>`
    SELECT DISTINCT reading.system_id AS "systemId"
      FROM kit JOIN method ON method.id = kit.method_id
      JOIN reading ON reading.quantity_code = method.quantity_code AND reading.kit_id IS NOT NULL AND reading.at >= ${since}
     WHERE kit.id = ${kitId}::uuid`;
  for (const { systemId } of users) work.reevaluate(systemId);
}
