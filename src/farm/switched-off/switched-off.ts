import type { OffThing, SwitchedOff as SwitchedOffRow } from '../../generated/prisma/client.ts';
import { canWorkAt } from '../../people/memberships.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { offUntil, thingOf, things } from './things.rules.ts';
import { timesOf } from './times.ts';

/** What is put off for now: a device of the equipment, or anything else of a system (`thing` and `what` say it). */
export interface SwitchOff {
  systemId: string;
  equipmentId?: string | null;
  tankId?: string | null;
  circuitId?: string | null;
  feedingId?: string | null;
  /** Needed where no equipment is named. */
  thing?: OffThing | null;
  /** As people call it; empty: the equipment's or the thing's own name. */
  what?: string;
  why: string;
  /** When it went off; empty means now. */
  at?: Date;
  /** For how many minutes; null: the usual time of its kind. */
  minutes?: number | null;
  onReturn?: string;
}

/**
 * Notes that something is off for now, and has the watch look when it is due and when it is late.
 * @throws Refusal 404 (no such equipment), 409 when it is off already, 422 when nothing says what is off
 */
export async function switchOff(work: Work, input: SwitchOff): Promise<SwitchedOffRow> {
  const { systemId, why, at = work.now } = input;
  const equipment = input.equipmentId ? await equipmentOff(work.tx, systemId, input.equipmentId) : null;
  const thing = input.thing ?? (equipment === null ? null : thingOf[equipment.kind]);
  if (thing === null) throw new Refusal('Choose what is off.', { field: 'thing' });
  await checkTank(work.tx, systemId, input.tankId ?? null);
  const row = await work.tx.switchedOff.create({
    data: {
      systemId,
      tankId: input.tankId ?? equipment?.tankId ?? null,
      equipmentId: equipment?.id ?? null,
      circuitId: input.circuitId ?? null,
      feedingId: input.feedingId ?? null,
      thing,
      what: input.what || equipment?.name || things[thing].name,
      why,
      offAt: at,
      ...offUntil(at, await timesOf(work.tx, thing), input.minutes ?? null),
      onReturn: input.onReturn || things[thing].onReturn,
      accountId: work.accountId,
      keeperId: work.accountId,
      createdAt: work.now,
    },
  });
  work.record(
    'switched_off.noted',
    { type: 'switched_off', id: row.id },
    { what: row.what, why, dueAt: row.dueAt },
  );
  watchAgain(work, row);
  return row;
}

function watchAgain(work: Work, { systemId, dueAt, lateAt }: SwitchedOffRow): void {
  work.reevaluate(systemId);
  work.reevaluateAt(systemId, dueAt);
  work.reevaluateAt(systemId, lateAt);
}

async function equipmentOff(tx: Tx, systemId: string, id: string) {
  const equipment = await tx.equipment.findFirst({ where: { id, systemId, removedAt: null } });
  if (equipment === null) throw new Refusal('Choose equipment of this system.', { field: 'equipmentId' });
  const off = await tx.switchedOff.findFirst({ where: { equipmentId: id, ...stillOff } });
  if (off !== null)
    throw new Refusal(`${equipment.name} is noted as off already. Say there when it runs again.`, {
      status: 409,
      field: 'equipmentId',
    });
  return equipment;
}

async function checkTank(tx: Tx, systemId: string, tankId: string | null): Promise<void> {
  if (tankId !== null && (await tx.tank.count({ where: { id: tankId, systemId } })) === 0)
    throw new Refusal('Choose a tank of this system.', { field: 'tankId' });
}

/** What is off now, as a condition. */
export const stillOff = { seenRunningAt: null, voidedAt: null } as const;

/** @throws Refusal 404 */
export async function findSwitchedOff(db: Reader, id: string): Promise<SwitchedOffRow> {
  const row = await db.switchedOff.findUnique({ where: { id } });
  if (row === null) throw notFound('What was switched off');
  return row;
}

/**
 * Ends what was off: somebody saw it running (closed, in force) again. Said twice, the first time counts.
 * @returns what was off; `first` false where it was said before. @throws Refusal 404
 */
export async function seeRunning(
  work: Work,
  id: string,
  { at = work.now, seen = '' }: { at?: Date; seen?: string } = {},
): Promise<{ off: SwitchedOffRow; first: boolean }> {
  const off = await findSwitchedOff(work.tx, id);
  const time = at < off.offAt ? off.offAt : at;
  const end = { seenRunningAt: time, seenRunningById: work.accountId, seen, offeredToId: null };
  const { count } = await work.tx.switchedOff.updateMany({
    where: { id, ...stillOff },
    data: { ...end, version: { increment: 1 } },
  });
  const first = count === 1;
  if (first && off.equipmentId !== null)
    await work.tx.equipment.update({
      where: { id: off.equipmentId },
      data: { seenRunningAt: time, seenRunningById: work.accountId },
    });
  const kind = first ? 'switched_off.seen_running' : 'switched_off.seen_running_again';
  work.record(kind, { type: 'switched_off', id }, { what: off.what, seen });
  work.reevaluate(off.systemId);
  return { off, first };
}

/** What another end writes over. */
export const endStanding = (id: string): Standing => ({
  what: 'how long this is off',
  read: async (reader) => (await findSwitchedOff(reader, id)).dueAt,
});

/** Gives it another end, counted from now. @throws Refusal 404, 409 when it runs again already */
export async function keepOffLonger(
  work: Work,
  id: string,
  { minutes, why }: { minutes: number; why: string },
): Promise<SwitchedOffRow> {
  const off = await findSwitchedOff(work.tx, id);
  if (off.seenRunningAt !== null) throw new Refusal(`${off.what} runs again already.`, { status: 409 });
  const end = offUntil(work.now, await timesOf(work.tx, off.thing), minutes);
  const data = { ...end, why: off.why === why ? why : `${off.why}; ${why}`, version: { increment: 1 } };
  const row = await work.tx.switchedOff.update({ where: { id }, data });
  work.record('switched_off.kept_longer', { type: 'switched_off', id }, { why, dueAt: row.dueAt });
  watchAgain(work, row);
  return row;
}

/** Offers it to somebody at the end of a shift; it stays with its keeper until that person accepts. @throws Refusal 404, 422 */
export async function offerOff(work: Work, id: string, toId: string): Promise<SwitchedOffRow> {
  const off = await findSwitchedOff(work.tx, id);
  const { siteId } = await work.tx.system.findUniqueOrThrow({ where: { id: off.systemId } });
  if (!(await canWorkAt(work.tx, siteId, toId)))
    throw new Refusal('Choose somebody who works at this site.', { field: 'toId' });
  await work.tx.switchedOff.update({ where: { id }, data: { offeredToId: toId } });
  work.record('switched_off.offered', { type: 'switched_off', id }, { toId });
  return off;
}

/** Takes over what is offered, or what nobody keeps. @throws Refusal 404 */
export async function acceptOff(work: Work, id: string): Promise<SwitchedOffRow> {
  const off = await findSwitchedOff(work.tx, id);
  await work.tx.switchedOff.update({ where: { id }, data: { keeperId: work.accountId, offeredToId: null } });
  work.record('switched_off.taken_over', { type: 'switched_off', id }, { from: off.keeperId });
  work.reevaluate(off.systemId);
  return off;
}

/** Takes back that something was off: it was noted by mistake. @throws Refusal 404, 409 when it was taken back before */
export async function voidOff(work: Work, id: string, voidReason: string): Promise<SwitchedOffRow> {
  const off = await findSwitchedOff(work.tx, id);
  const data = { voidedAt: work.now, voidReason, offeredToId: null, version: { increment: 1 } };
  const { count } = await work.tx.switchedOff.updateMany({ where: { id, voidedAt: null }, data });
  if (count === 0) throw new Refusal(`${off.what} was taken back before.`, { status: 409 });
  work.record('switched_off.voided', { type: 'switched_off', id }, { what: off.what, reason: voidReason });
  work.reevaluate(off.systemId);
  return off;
}

/** Takes back what was noted as off for a feeding that is voided. */
export async function takeBackOff(work: Work, feedingId: string, voidReason: string): Promise<void> {
  await work.tx.switchedOff.updateMany({
    where: { feedingId, ...stillOff },
    data: { voidedAt: work.now, voidReason },
  });
}
