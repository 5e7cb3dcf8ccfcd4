import { uuidv7 } from 'uuidv7';
import { z } from 'zod';
import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { holdToSeen } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { optionalNumber, optionalText, text, tick } from '../../platform/web/fields.ts';
import { convert, convertDifference } from '../../science/units.ts';
import { farmValue, type Quantity, usualMiddle } from '../quantities/quantities.ts';
import { isProbe } from './instruments.ts';

/** A method as typed: uncertainties, step and limit in the farm's unit of its quantity, the relative one in per cent. */
export const methodSchema = z.object({
  quantityCode: text('the quantity', 40),
  name: text('what the method is called', 80),
  absolute: optionalNumber({ what: 'the uncertainty', low: 0, high: 1e6 }),
  relative: optionalNumber({ what: 'the uncertainty', low: 0, high: 100, unit: '%' }),
  step: optionalNumber({ what: 'the step of the scale', low: 1e-9, high: 1e6 }),
  detectionLimit: optionalNumber({ what: 'the detection limit', low: 0, high: 1e6 }),
  sideDivisor: optionalNumber({ what: 'the divisor', low: 1.01, high: 1000 }),
  everyMinutes: optionalNumber({ what: 'how often it reports', low: 0.1, high: 10_080, unit: 'minutes' }),
  isProbe: tick(),
  laboratory: optionalText(80),
  isDefault: tick(),
  retired: tick(),
  note: text('where the figures come from', 500),
});

export type MethodInput = z.output<typeof methodSchema>;

/** Every method, in bench order. */
export async function listMethods(db: Reader) {
  return db.method.findMany({
    include: { quantity: true },
    orderBy: [{ quantity: { position: 'asc' } }, { isDefault: 'desc' }, { name: 'asc' }],
  });
}

/** @throws Refusal 404 */
export async function findMethod(db: Reader, id: string) {
  const method = await db.method.findUnique({ where: { id }, include: { quantity: true } });
  if (method === null) throw notFound('This method');
  return method;
}

type Method = Awaited<ReturnType<typeof findMethod>>;

/** A method as its form shows it, in the farm's units. */
export function methodFormValues(method: Method): Record<keyof MethodInput, string> {
  const { quantity } = method;
  const size = (value: number | null) =>
    value === null || value === 0 ? '' : fourDigits(toFarmSize(quantity, value));
  return {
    quantityCode: quantity.code,
    name: method.name,
    absolute: size(method.absolute),
    relative: method.relative === 0 ? '' : fourDigits(method.relative * 100),
    step: size(method.step),
    detectionLimit:
      method.detectionLimit === null ? '' : fourDigits(farmValue(quantity, method.detectionLimit).value),
    sideDivisor: method.sideDivisor === null ? '' : String(method.sideDivisor),
    everyMinutes: method.everyMinutes === null ? '' : String(method.everyMinutes),
    isProbe: isProbe(method) ? 'yes' : '',
    laboratory: method.laboratory,
    isDefault: method.isDefault ? 'yes' : '',
    retired: method.retiredAt === null ? '' : 'yes',
    note: method.note,
  };
}

/** Adds the methods of laboratories that are new to the farm. One statement. */
export async function addLaboratoryMethods(
  work: Work,
  methods: readonly Prisma.MethodCreateManyInput[],
): Promise<void> {
  const rows = methods.map((method) => ({ id: uuidv7(), ...method }));
  await work.tx.method.createMany({ data: rows });
  for (const { id, name, quantityCode, laboratory } of rows)
    work.record('method.added', { type: 'method', id }, { name, quantityCode, laboratory });
}

/** Adds a method, or changes one: readings keep the uncertainty they were entered with. @throws Refusal; 409 on a stale edit */
export async function saveMethod(
  work: Work,
  id: string | null,
  input: MethodInput,
  seen = '',
): Promise<{ id: string }> {
  const quantity = await work.tx.quantity.findUnique({ where: { code: input.quantityCode } });
  if (quantity === null) throw new Refusal('Choose the quantity from the list.', { field: 'quantityCode' });
  if (!input.absolute && !input.relative)
    throw new Refusal('Enter how far a test may be off: as an amount, in per cent, or both.', {
      field: 'absolute',
    });
  if (id !== null) await work.tx.$queryRaw`SELECT 1 FROM method WHERE id = ${id}::uuid FOR UPDATE`;
  const old = id === null ? null : await findMethod(work.tx, id);
  if (old !== null) holdToSeen(seen, methodFormValues(old), 'this method');
  if (old !== null && old.quantityCode !== quantity.code)
    throw new Refusal('A method stays with its quantity. Add another one.', { field: 'quantityCode' });
  if (input.isDefault)
    await work.tx.method.updateMany({
      where: { quantityCode: quantity.code, isDefault: true },
      data: { isDefault: false },
    });
  const data = {
    ...methodData(quantity, input),
    retiredAt: input.retired ? (old?.retiredAt ?? work.now) : null,
  };
  const saved =
    id === null
      ? await work.tx.method.create({ data: { ...data, quantityCode: quantity.code } })
      : await work.tx.method.update({ where: { id }, data });
  work.record(
    id === null ? 'method.added' : 'method.changed',
    { type: 'method', id: saved.id },
    { quantity: quantity.name, ...data },
  );
  return { id: saved.id };
}

function methodData(quantity: Quantity, input: MethodInput) {
  const { name, sideDivisor, everyMinutes, laboratory, isDefault, note } = input;
  const size = (value: number | null) => (value ? toCanonicalSize(quantity, value) : null);
  return {
    name,
    absolute: size(input.absolute) ?? 0,
    relative: (input.relative ?? 0) / 100,
    step: size(input.step),
    detectionLimit: input.detectionLimit
      ? convert(quantity.code, input.detectionLimit, quantity.displayUnit, quantity.canonicalUnit)
      : null,
    sideDivisor,
    everyMinutes,
    isProbe: input.isProbe || everyMinutes !== null,
    laboratory,
    isDefault,
    note,
  };
}

function toFarmSize(quantity: Quantity, value: number): number {
  const { unit } = farmValue(quantity, usualMiddle(quantity));
  return Math.abs(
    convertDifference(quantity.code, value, quantity.canonicalUnit, unit, usualMiddle(quantity)),
  );
}

function toCanonicalSize(quantity: Quantity, value: number): number {
  const at = farmValue(quantity, usualMiddle(quantity));
  return Math.abs(convertDifference(quantity.code, value, at.unit, quantity.canonicalUnit, at.value));
}

const fourDigits = (value: number) => String(Number(value.toPrecision(4)));
