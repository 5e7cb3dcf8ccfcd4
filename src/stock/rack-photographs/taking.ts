import { createHash } from 'node:crypto';
import { change } from '../../platform/change.ts';
import { momentOf } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { isThinkable } from '../../platform/web/moments.ts';
import type { CameraNotes } from '../../science/photograph/exif.ts';
import { rackThen } from './lots-then.ts';
import { keepingOf, type NewRackPhotograph } from './photographs.ts';
import { readPhotograph } from './reading.ts';

/** A photograph that came, to be read. */
export interface SentPhotograph {
  file: Uint8Array;
  rack: { id: string; rows: number; columns: number };
  siteId: string;
  accountId: string;
  takenAt: Date;
  focal35: number | null;
}

export const sha256Of = (file: Uint8Array): string => createHash('sha256').update(file).digest('hex');

/**
 * Reads a photograph by the lots that stood on its rack when it was taken. Why one is not read is kept in the journal, so that
 * whoever takes the next one is told.
 * @throws Refusal in words that say what to do
 */
export async function readSent(
  service: Service,
  { file, rack, siteId, accountId, takenAt, focal35 }: SentPhotograph,
): Promise<NewRackPhotograph> {
  const then = await rackThen(service.pool, rack, takenAt);
  const { keepOriginals } = await keepingOf(service.db, siteId);
  try {
    const read = await readPhotograph({ file, rack: then.rack, focal35, keepOriginal: keepOriginals });
    return { rackId: rack.id, siteId, takenAt, sha256: sha256Of(file), lots: then.lots, read };
  } catch (error) {
    if (error instanceof Refusal) {
      const why = error.message;
      await change(service, { accountId }, async (work) =>
        work.record('rack_photograph.not_read', { type: 'rack', id: rack.id }, { why }),
      );
    }
    throw error;
  }
}

/** When a photograph was taken, and who says so: only a camera and a person know, a file's date is a guess. */
export interface PhotographTime {
  at: Date;
  by: 'camera' | 'file' | 'now';
}

/**
 * When a camera says a photograph was taken; where it says nothing, or what cannot be, the date of its file as the browser
 * knows it; else now.
 * @param fileDate null where none was sent
 */
export function timeOfPhotograph(
  notes: CameraNotes,
  fileDate: Date | null,
  timeZone: string,
  now: Date,
): PhotographTime {
  const camera = cameraTime(notes, timeZone);
  if (camera !== null && canBe(camera, now)) return { at: camera, by: 'camera' };
  if (fileDate !== null && canBe(fileDate, now)) return { at: fileDate, by: 'file' };
  return { at: now, by: 'now' };
}

const canBe = (at: Date, now: Date) => isThinkable(at) && at <= now && at.getUTCFullYear() > 1990;

function cameraTime({ takenAt }: CameraNotes, timeZone: string): Date | null {
  if (takenAt === null) return null;
  const [day = '', time = ''] = takenAt.local.split('T');
  try {
    return takenAt.offset === null
      ? momentOf(day, time, timeZone)
      : new Date(`${takenAt.local}${takenAt.offset}`);
  } catch (error) {
    // A camera whose clock was never set writes days that are none.
    if (error instanceof RangeError) return null;
    throw error;
  }
}
