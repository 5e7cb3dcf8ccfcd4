import { noteCheckedWell } from '../../farm/equipment/checks.ts';
import { noteFault } from '../../farm/equipment/faults.ts';
import { logEvent } from '../../farm/events/events.ts';
import { eventKinds } from '../../farm/events/kinds.rules.ts';
import { pickedOff } from '../../farm/switched-off/switched-off.schema.ts';
import { seeRunning, switchOff } from '../../farm/switched-off/switched-off.ts';
import type { Round } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { choreOf } from '../round/chores.rules.ts';
import type { Entry } from './entries.schema.ts';
import type { Applied } from './entry-effects.ts';

type Of<K extends Entry['kind']> = Extract<Entry, { kind: K }>;

/** Something went off for now when it was tapped, not when the tablet found the network again. */
export async function switchedOff(work: Work, entry: Of<'switch_off'>, at: Date): Promise<Applied> {
  const { systemId, pick, why, minutes } = entry;
  const picked = pickedOff(pick);
  if (picked === null) throw new Refusal('Choose what is off.', { field: 'pick' });
  const { id, what } = await switchOff(work, { systemId, ...picked, why, minutes, at });
  return { systemId, detail: { offId: id, what: `${what} off`, note: why } };
}

/** Something changed the habits of the water when it was tapped: they are learnt again from there. */
export async function happened(work: Work, entry: Of<'event'>, at: Date): Promise<Applied> {
  const { systemId, event, note } = entry;
  const { id } = await logEvent(work, systemId, { kind: event, at, note });
  return { systemId, detail: { eventId: id, what: eventKinds[event], note } };
}

/** It runs again, as somebody saw. It is named by its own key, or by that of the entry that noted it. */
export async function seenRunning(work: Work, entry: Of<'seen_running'>, at: Date): Promise<Applied> {
  const noted = await work.tx.roundEntry.findFirst({ where: { id: entry.offId, kind: 'switch_off' } });
  const id = (noted?.detail as { offId?: string } | undefined)?.offId ?? entry.offId;
  const { off } = await seeRunning(work, id, { at, seen: entry.seen });
  return {
    systemId: off.systemId,
    detail: { offId: id, what: `${off.what} seen running`, note: entry.seen },
  };
}

/** Something is wrong: it is told at once, with who noted it. Found by a check, the check is answered by it. */
export async function faultSeen(work: Work, round: Round, entry: Of<'fault'>, at: Date): Promise<Applied> {
  const { systemId, equipmentId, seen, key } = entry;
  const { id } = await noteFault(work, { systemId, equipmentId, seen, at, roundId: round.id });
  const what = choreOf(key)?.title ?? 'Equipment';
  return { systemId, detail: { key, faultId: id, what: `${what}: something is wrong`, note: seen } };
}

/** All right, said by the check of a system's equipment. */
export async function checkedWell(work: Work, systemId: string, at: Date): Promise<void> {
  await noteCheckedWell(work, systemId, at);
}
