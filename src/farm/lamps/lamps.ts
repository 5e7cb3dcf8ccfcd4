import type { Lamp as LampRow, LampSetting } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { noteFirstMountings, noteMountings } from '../racks/mounting.ts';
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

/** What a form was drawn from, in one comparable text. */
export const seenOf = (lamp: Pick<Lamp, 'name' | 'racks'>): string =>
  [lamp.name, ...lamp.racks.map((rack) => rack.id).sort()].join('|');

async function lightRacks(work: Work, lampId: string, tankId: string, rackIds: string[]): Promise<void> {
  const inTank = await work.tx.rack.findMany({ where: { tankId }, select: { id: true } });
  const hung = inTank.map(({ id }) => id);
  await noteFirstMountings(work, hung);
  await work.tx.rack.updateMany({
    where: { lampId, id: { notIn: rackIds } },
    data: { lampId: null, version: { increment: 1 } },
  });
  const chosen = { id: { in: rackIds }, tankId };
  if ((await work.tx.rack.count({ where: chosen })) < new Set(rackIds).size)
    throw new Refusal('One of the racks does not stand in this tank. Choose again.', { field: 'racks' });
  await work.tx.rack.updateMany({
    where: { ...chosen, OR: [{ lampId: null }, { lampId: { not: lampId } }] },
    data: { lampId, version: { increment: 1 } },
  });
  await noteMountings(work, hung);
}

/** Adds lamps above a tank, at the setting they have now, and the racks they light. */
export async function addLamp(work: Work, tankId: string, input: LampInput): Promise<{ id: string }> {
  const tank = await findTank(work.tx, tankId);
  const { racks, percent, ...rest } = input;
  const { litHours, rampHours } = rest;
  const first = { at: work.now, percent, litHours, rampHours, note: 'As found', accountId: work.by };
  const { id } = await work.tx.lamp.create({ data: { ...rest, tankId, settings: { create: first } } });
  await lightRacks(work, id, tankId, racks);
  work.note('lamp.created', { type: 'lamp', id }, { tankId, ...input });
  work.touch(tank.systemId);
  return { id };
}

/** Changes the name and the racks lit. @throws Refusal 404, 409 on a stale edit */
export async function editLamp(work: Work, id: string, input: LampEdit): Promise<Lamp> {
  await work.tx.$queryRaw`SELECT 1 FROM lamp WHERE id = ${id}::uuid FOR UPDATE`;
  const lamp = await findLamp(work.tx, id);
  if (seenOf(lamp) !== input.seen) throw staleEdit('these lamps');
  await work.tx.lamp.update({ where: { id }, data: { name: input.name } });
  await lightRacks(work, id, lamp.tankId, input.racks);
  const before = { name: lamp.name, racks: lamp.racks.map((rack) => rack.id) };
  work.note(
    'lamp.changed',
    { type: 'lamp', id },
    { before, after: { name: input.name, racks: input.racks } },
  );
  work.touch(lamp.system.id);
  return lamp;
}

/** One line of a lamp's history. */
export interface SettingLine extends LampSetting {
  who: string | null;
}

/** Newest first. */
export async function listSettings(db: Reader, lampId: string): Promise<SettingLine[]> {
  const settings = await db.lampSetting.findMany({ where: { lampId }, orderBy: { at: 'desc' } });
  const ids = [...new Set(settings.map((one) => one.accountId).filter((id) => id !== null))];
  const people = await db.account.findMany({ where: { id: { in: ids } }, select: { id: true, name: true } });
  const names = new Map(people.map(({ id, name }) => [id, name]));
  return settings.map((one) => ({ ...one, who: names.get(one.accountId ?? '') ?? null }));
}

/** The lamp's own hours follow its newest setting; settings that had none keep what was in force. */
async function syncHours(work: Work, lampId: string): Promise<void> {
  await work.tx.$executeRaw`
    UPDATE lamp SET lit_hours = newest.lit_hours, ramp_hours = newest.ramp_hours
      FROM (SELECT * FROM lamp_setting WHERE lamp_id = ${lampId}::uuid ORDER BY at DESC LIMIT 1) AS newest
     WHERE lamp.id = newest.lamp_id AND newest.lit_hours IS NOT NULL`;
}

/** Notes that lamps were turned, or that their day was made longer or shorter, at a time. */
export async function turnLamp(
  work: Work,
  lampId: string,
  { at, ...input }: SettingInput,
): Promise<{ id: string }> {
  const lamp = await findLamp(work.tx, lampId);
  await work.tx.lampSetting.updateMany({
    where: { lampId, litHours: null },
    data: { litHours: lamp.litHours, rampHours: lamp.rampHours },
  });
  const { id } = await work.tx.lampSetting.create({ data: { ...input, at, lampId, accountId: work.by } });
  await syncHours(work, lampId);
  work.note('lamp_setting.entered', { type: 'lamp', id: lampId }, { at, ...input });
  work.touch(lamp.system.id);
  return { id };
}

/** Takes back a setting that was entered wrongly; the journal keeps what it said. @throws Refusal 404 */
export async function removeSetting(work: Work, lampId: string, id: string, reason: string): Promise<void> {
  const lamp = await findLamp(work.tx, lampId);
  const setting = await work.tx.lampSetting.findFirst({ where: { id, lampId } });
  if (setting === null) throw notFound('This setting');
  await work.tx.lampSetting.delete({ where: { id } });
  await syncHours(work, lampId);
  const { at, percent, litHours, rampHours } = setting;
  work.note(
    'lamp_setting.removed',
    { type: 'lamp', id: lampId },
    { at, percent, litHours, rampHours, reason },
  );
  work.touch(lamp.system.id);
}
