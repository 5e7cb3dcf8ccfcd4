import type { QueuedPhoto } from '../store/types.ts';
import { showRows } from './rows.ts';
import { element } from './screen.ts';

/** Lists, on the page where the round is ended, the photos that the service does not take, each to be left out. */
export function listRefusedPhotos(
  photos: readonly QueuedPhoto[],
  leaveOut: (id: string) => Promise<void>,
): void {
  const place = document.querySelector<HTMLElement>('[data-refused-photos]');
  if (place === null) return;
  const refused = photos.filter(({ standing }) => standing === 'refused');
  showRows(place, new Map(refused.map((photo) => [photo.id, () => row(photo, leaveOut)])));
}

function row({ id, label, why }: QueuedPhoto, leaveOut: (id: string) => Promise<void>): HTMLLIElement {
  const button = element('button', { type: 'button', className: 'button quiet' }, 'Leave it out');
  button.addEventListener('click', () => void leaveOut(id));
  return element('li', {}, element('strong', {}, `Photo of ${label}`), ` ${why} `, button);
}

const longestSide = 1600;

/**
 * A photo small enough to be kept and sent over a poor network: JPEG, its longer side at most so many px, nothing in it
 * but the picture. What the browser cannot draw is kept as it is, for the service to judge.
 */
export async function shrink(file: Blob, longest = longestSide, quality = 0.85): Promise<Blob> {
  try {
    const picture = await createImageBitmap(file, { imageOrientation: 'from-image' });
    const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
    const canvas = document.createElement('canvas');
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    const made = await new Promise<Blob | null>((resolve) => canvas.toBlob(resolve, 'image/jpeg', quality));
    return made ?? file;
  } catch {
    return file;
  }
}
