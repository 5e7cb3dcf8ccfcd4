import type { Sending } from './sender.ts';
import type { Kept } from './types.ts';

const clock = (at: Date) =>
  `${String(at.getHours()).padStart(2, '0')}:${String(at.getMinutes()).padStart(2, '0')}`;
const notes = (n: number) => (n === 1 ? '1 note' : `${n} notes`);

/** What the foot says of what is not with the service yet. `strong` first, then `rest`, then a link. */
export interface SentWords {
  strong: string;
  rest: string;
  link: { href: string; text: string } | null;
}

/** Nothing where all is sent and well. */
export function sentWords(
  all: readonly Kept[],
  sending: Sending,
  state: { lasting: boolean; full: boolean; roundPath: string },
): SentWords {
  const waiting = all.filter((kept) => kept.standing === 'waiting' || kept.standing === 'open').length;
  const refused = all.filter((kept) => kept.standing === 'refused').length;
  const count = waiting === 0 ? '' : `${waiting} not sent yet.`;
  if (state.full) {
    return plain('The last tap was not kept: this tablet is full.', 'Free some room on it, then tap again.');
  }
  if (sending.trouble === 'signed out') {
    const rest =
      waiting === 0 ? 'You are signed out.' : 'You are signed out. Sign in again; nothing is lost.';
    return { strong: count, rest, link: { href: '/sign-in', text: 'Sign in' } };
  }
  if (sending.trouble !== null && sending.since !== null) {
    const kept = state.lasting
      ? 'kept on this tablet'
      : 'this browser keeps nothing, so leave this page open';
    return plain(
      count,
      `No network since ${clock(sending.since)}; ${waiting === 0 ? 'you can go on' : kept}.`,
    );
  }
  if (refused > 0) {
    return {
      strong: `${notes(refused)} not taken.`,
      rest: '',
      link: { href: `${state.roundPath}/end`, text: 'Put right' },
    };
  }
  return plain(count, '');
}

const plain = (strong: string, rest: string): SentWords => ({ strong, rest, link: null });
