import type { QueuedEntry, QueuedPhoto } from '../store/types.ts';
import type { Sending } from './sender.ts';

const clock = (at: Date) =>
  `${String(at.getHours()).padStart(2, '0')}:${String(at.getMinutes()).padStart(2, '0')}`;
const pictures = (n: number) => (n === 1 ? '1 photo' : `${n} photos`);
const notes = (n: number) => (n === 1 ? '1 note' : `${n} notes`);

/** What the foot says of what is not with the service yet. `strong` first, then `rest`, then a link. */
export interface SendingWords {
  strong: string;
  rest: string;
  link: { href: string; text: string } | null;
}

/** Nothing where all is sent and well. */
export function sendingWords(
  all: readonly QueuedEntry[],
  sending: Sending,
  state: {
    lasting: boolean;
    /** Nothing more could be kept. */
    full: boolean;
    /** Little more can be kept. */
    scarce: boolean;
    roundPath: string;
    photos: readonly Pick<QueuedPhoto, 'standing'>[];
  },
): SendingWords {
  const waiting = all.filter((kept) => kept.standing === 'waiting' || kept.standing === 'open').length;
  const refused = all.filter((kept) => kept.standing === 'refused').length;
  const photos = state.photos.filter((photo) => photo.standing === 'waiting').length;
  const badPhotos = state.photos.length - photos;
  const count = countWords(waiting, photos);
  if (state.full) {
    return plain('The last tap was not kept: this tablet is full.', 'Free some room on it, then tap again.');
  }
  if (sending.trouble === 'signed out') {
    const rest = count === '' ? 'You are signed out.' : 'You are signed out. Sign in again; nothing is lost.';
    return { strong: count, rest, link: { href: '/sign-in', text: 'Sign in' } };
  }
  if (sending.trouble === 'failed')
    return plain(count, 'The service failed at it. This tablet keeps it and tries again by itself.');
  if (sending.trouble !== null && sending.since !== null) {
    const kept = state.lasting
      ? 'kept on this tablet'
      : 'this browser keeps nothing, so leave this page open';
    const rest = `No network since ${clock(sending.since)}; ${count === '' ? 'you can go on' : kept}.`;
    const link =
      refused === 0 ? null : { href: `${state.roundPath}/end`, text: `${notes(refused)} not taken` };
    return { strong: count, rest, link };
  }
  if (refused + badPhotos > 0) {
    return {
      strong: refused > 0 ? `${notes(refused)} not taken.` : `${pictures(badPhotos)} not taken.`,
      rest: '',
      link: { href: `${state.roundPath}/end`, text: 'Put right' },
    };
  }
  if (state.scarce)
    return plain(count, 'This tablet is nearly full: free some room on it before it keeps nothing more.');
  return plain(count, '');
}

/** "3 not sent yet.", "3 and 1 photo not sent yet."; nothing where all is sent. */
function countWords(entries: number, photos: number): string {
  if (photos === 0) return entries === 0 ? '' : `${entries} not sent yet.`;
  return `${entries === 0 ? '' : `${entries} and `}${pictures(photos)} not sent yet.`;
}

const plain = (strong: string, rest: string): SendingWords => ({ strong, rest, link: null });
