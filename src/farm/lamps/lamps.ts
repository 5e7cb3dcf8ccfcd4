import type { Lamp as LampRow, LampSetting } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { dateBackMountings, noteFirstMountings, noteMountings } from '../racks/mounting.ts';
import { racksOfTank } from '../racks/racks.ts';
import { findTank } from '../tanks/tanks.ts';
import type { LampEdit, LampInput, SettingInput } from './lamps.schema.ts';

/** Lamps that are set together, with the racks they light. */
export interface Lamp extends LampRow {
  tank: { id: string; name: string };
  system: { id: string; name: string };
  racks: { id: string; name: string }[];
  /** The setting in force; null when none was ever noted. */
  setting: LampSetting | null;
}

const named = { select: { id: true, name: true } };
const inOrder = [{ position: 'asc' } as const, { name: 'asc' } as const];

/** @throws Refusal 404 */
export async function findLamp(db: Reader, id: string): Promise<Lamp> {
  const lamp = await db.lamp.findUnique({
    where: { id },
    include: {
      tank: { select: { id: true, name: true, system: named } },
      racks: { ...named, orderBy: inOrder },
      settings: { orderBy: { at: 'desc' }, take: 1 },
    },
  });
  if (lamp === null) throw notFound('These lamps');
  const { settings, ...rest } = lamp;
  const { system, ...tank } = lamp.tank;
  return { ...rest, tank, system, setting: settings[0] ?? null };
}

/** Name and racks of lamps as one text, which tells a form whether they were changed since it was drawn. */
export const lampFingerprint = (lamp: Pick<Lamp, 'name' | 'racks'>): string =>
  [lamp.name, ...lamp.racks.map((rack) => rack.id).sort()].join('|');

/** Lights exactly these racks with these lamps; other racks the lamps lit are left without. */
async function assignRacks(work: Work, lampId: string, tankId: string, rackIds: string[]): Promise<void> {
  const inTank = (await racksOfTank(work.tx, tankId)).map(({ id }) => id);
  await noteFirstMountings(work, inTank);
  await work.tx.rack.updateMany({
    where: { lampId, id: { notIn: rackIds } },
    data: { lampId: null, version: { increment: 1 } },
  });
  const chosen = { id: { in: rackIds }, tankId };
  if ((await work.tx.rack.count({ where: chosen })) < new Set(rackIds).size)
    throw new Refusal('One of the racks is not in this tank. Choose again.', { field: 'racks' });
  await work.tx.rack.updateMany({
    where: { ...chosen, OR: [{ lampId: null }, { lampId: { not: lampId } }] },
    data: { lampId, version: { increment: 1 } },
  });
  await noteMountings(work, inTank);
}

/** Adds lamps above a tank with their present setting, since when it is so, and the racks they light. @throws Refusal 404, 422 */
export async function addLamp(work: Work, tankId: string, input: LampInput): Promise<{ id: string }> {
  const tank = await findTank(work.tx, tankId);
  const { racks, percent, since, ...rest } = input;
  const { litHours, rampHours } = rest;
  const first = { at: since, percent, litHours, rampHours, note: 'As found', accountId: work.accountId };
  const { id } = await work.tx.lamp.create({ data: { ...rest, tankId, settings: { create: first } } });
  await assignRacks(work, id, tankId, racks);
  if (since < work.now) await dateBackMountings(work, racks, id, since);
  work.record('lamp.created', { type: 'lamp', id }, { tankId, ...input });
  work.reevaluate(tank.systemId);
  return { id };
}

/** Changes the name and the racks that are lit. @throws Refusal 404, 409 on a stale edit */
export async function editLamp(work: Work, id: string, input: LampEdit): Promise<Lamp> {
  await work.tx.$queryRaw`SELECT 1 FROM lamp WHERE id = ${id}::uuid FOR UPDATE`;
  const lamp = await findLamp(work.tx, id);
  if (lampFingerprint(lamp) !== input.seen) throw staleEdit('these lamps');
  await work.tx.lamp.update({ where: { id }, data: { name: input.name } });
  await assignRacks(work, id, lamp.tankId, input.racks);
  const before = { name: lamp.name, racks: lamp.racks.map((rack) => rack.id) };
  work.record(
    'lamp.changed',
    { type: 'lamp', id },
    { before, after: { name: input.name, racks: input.racks } },
  );
  work.reevaluate(lamp.system.id);
  return lamp;
}

/** The lamps above a tank by name, each with the setting in force. */
export async function listLampsAbove(db: Reader, tankId: string) {
  const lamps = await db.lamp.findMany({
    where: { tankId },
    orderBy: { name: 'asc' },
    include: { settings: { orderBy: { at: 'desc' }, take: 1 } },
  });
  return lamps.map(({ settings, ...lamp }) => ({ ...lamp, setting: settings[0] ?? null }));
}

/** A setting and who entered it. */
export interface SettingEntry extends LampSetting {
  who: string | null;
}

/** Newest first. */
export async function listSettings(db: Reader, lampId: string): Promise<SettingEntry[]> {
  const settings = await db.lampSetting.findMany({ where: { lampId }, orderBy: { at: 'desc' } });
  const ids = [...new Set(settings.map((one) => one.accountId).filter((id) => id !== null))];
  const people = await db.account.findMany({ where: { id: { in: ids } }, select: { id: true, name: true } });
  const names = new Map(people.map(({ id, name }) => [id, name]));
  return settings.map((one) => ({ ...one, who: names.get(one.accountId ?? '') ?? null }));
}

/** Sets the lamp's own hours to those of its newest setting. */
async function updateHours(work: Work, lampId: string): Promise<void> {
  await work.tx.$executeRaw`
    UPDATE lamp SET lit_hours = newest.lit_hours, ramp_hours = newest.ramp_hours
      FROM (SELECT * FROM lamp_setting WHERE lamp_id = ${lampId}::uuid ORDER BY at DESC LIMIT 1) AS newest
     WHERE lamp.id = newest.lamp_id AND newest.lit_hours IS NOT NULL`;
}

/** Enters a setting of lamps from a time on: how strong they are and how long their day is. @throws Refusal 404 */
export async function addSetting(
  work: Work,
  lampId: string,
  { at, ...input }: SettingInput,
): Promise<{ id: string }> {
  const lamp = await findLamp(work.tx, lampId);
  // Older settings without hours get those in force until now: a longer day must not rewrite the light of the past.
  await work.tx.lampSetting.updateMany({
    where: { lampId, litHours: null },
    data: { litHours: lamp.litHours, rampHours: lamp.rampHours },
  });
  const { id } = await work.tx.lampSetting.create({
    data: { ...input, at, lampId, accountId: work.accountId },
  });
  await updateHours(work, lampId);
  work.record('lamp_setting.entered', { type: 'lamp', id: lampId }, { at, ...input });
  work.reevaluate(lamp.system.id);
  return { id };
}

/** Removes a setting that was entered wrongly; the journal keeps it. @throws Refusal 404 */
export async function removeSetting(work: Work, lampId: string, id: string, reason: string): Promise<void> {
  const lamp = await findLamp(work.tx, lampId);
  const setting = await work.tx.lampSetting.findFirst({ where: { id, lampId } });
  if (setting === null) throw notFound('This setting');
  await work.tx.lampSetting.delete({ where: { id } });
  await updateHours(work, lampId);
  const { at, percent, litHours, rampHours } = setting;
  work.record(
    'lamp_setting.removed',
    { type: 'lamp', id: lampId },
    { at, percent, litHours, rampHours, reason },
  );
  work.reevaluate(lamp.system.id);
}
