import { element } from './elements.ts';
import type { QueuedPhoto } from './types.ts';

/** Lists, on the page where the round is ended, the photos that the service does not take, each to be left out. */
export function listRefusedPhotos(
  photos: readonly QueuedPhoto[],
  leaveOut: (id: string) => Promise<void>,
): void {
  const place = document.querySelector('[data-refused-photos]');
  if (place === null) return;
  const rows = photos
    .filter(({ standing }) => standing === 'refused')
    .map(({ id, label, why }) => {
      const button = element('button', { type: 'button', className: 'button quiet' }, 'Leave it out');
      button.addEventListener('click', () => void leaveOut(id));
      return element('li', {}, element('strong', {}, `Photo of ${label}`), ` ${why} `, button);
    });
  place.replaceChildren(...rows);
}
