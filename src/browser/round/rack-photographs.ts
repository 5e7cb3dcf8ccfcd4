import { exifOfJpeg, readCameraNotes } from '../../science/photograph/exif.ts';
import type { QueuedPhoto } from '../store/types.ts';
import { shrink } from './photos.ts';

/** As much as its reader needs: the longer side, px, and the quality of the JPEG (own choices; some 2 MB). */
const [LONGEST, QUALITY] = [3600, 0.9];
/** Of so many px on, a camera's notes lie in this much of its file, bytes (Exif: one segment near the beginning). */
const NOTES = 131_072;

/** A photograph of a rack as it is kept: smaller, with what the camera knew, which the smaller one no longer tells. */
export interface TakenOfRack {
  image: Blob;
  takenAt: string;
  focal35: number | null;
}

/** @param file from the camera, or one that was taken before */
export async function takenOfRack(file: File): Promise<TakenOfRack> {
  const head = new Uint8Array(await file.slice(0, NOTES).arrayBuffer());
  const { takenAt, focal35 } = readCameraNotes(exifOfJpeg(head));
  // A camera that tells no offset goes by the clock of its place, which is the tablet's.
  const noted = takenAt === null ? Number.NaN : Date.parse(`${takenAt.local}${takenAt.offset ?? ''}`);
  const at = Number.isNaN(noted) ? file.lastModified : noted;
  return {
    image: await shrink(file, LONGEST, QUALITY),
    takenAt: new Date(at > 0 && at < Date.now() ? at : Date.now()).toISOString(),
    focal35,
  };
}

/** Hands on the files that are chosen at "Photograph the rack". */
export function followRackPhotographs(
  keep: (rack: { id: string; label: string }, files: readonly File[]) => Promise<void>,
): void {
  document.addEventListener('change', (event) => {
    const input = event.target as HTMLInputElement;
    const { rackPhoto: id, label = '' } = input.dataset;
    if (id === undefined || input.files === null || input.files.length === 0) return;
    const files = [...input.files];
    input.value = '';
    void keep({ id, label }, files);
  });
}

/** Says on a rack's screen how many of its photographs are only on this tablet. */
export function sayWaiting(photos: readonly QueuedPhoto[]): void {
  for (const place of document.querySelectorAll<HTMLElement>('[data-rack-photos-waiting]')) {
    const own = photos.filter(
      ({ rackId, standing }) => standing === 'waiting' && rackId === place.dataset.rackPhotosWaiting,
    ).length;
    const count = own === 1 ? '1 photograph is' : `${own} photographs are`;
    const said = own === 0 ? '' : `${count} kept on this tablet, and read once the service has it.`;
    if (place.textContent !== said) place.textContent = said;
  }
}
