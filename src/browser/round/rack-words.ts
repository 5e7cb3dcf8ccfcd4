/** What is known of the lots of a rack while it is passed. */
export interface RackCount {
  /** Lots with an entry of their own on this round. */
  noted: number;
  /** Not well at the last check, which one tap can say to be no worse. */
  sick: number;
  /** With pieces lost at the last look: one tap says nothing of them. */
  lost: number;
  /** With a note of their own that was not taken: one tap says nothing of them either. */
  untaken: number;
  /** All others. */
  well: number;
}

const lots = (count: number, which = '') => `${count} ${which}${count === 1 ? 'lot' : 'lots'}`;

/** What the one tap for a rack says, and what exactly it will note. The service and the tablet both say it by this. */
export function passWords({ noted, sick, lost, untaken, well }: RackCount): { text: string; notes: string } {
  const notes = [
    sick > 0 ? `${lots(sick)} sick: no worse` : '',
    well > 0 ? `${sick + noted + lost + untaken > 0 ? lots(well, 'other ') : lots(well)}: well` : '',
    lost > 0 ? `${lots(lost)} with losses: nothing` : '',
    untaken > 0 ? `${lots(untaken)} with a note not taken: nothing` : '',
  ].filter((part) => part !== '');
  const others = noted + untaken > 0 ? 'others ' : '';
  if (sick > 0) return { text: `All ${others}as before`, notes: notes.join('; ') };
  if (well > 0)
    return { text: noted + lost + untaken > 0 ? 'All others well' : 'All well', notes: notes.join('; ') };
  return { text: 'Rack looked at', notes: notes.join('; ') || 'each lot is noted' };
}

/**
 * What is wrong with a number of pieces as it was typed; '' where nothing is.
 * @param lostOf of how many some were lost, so that fewer must be left; null where none were
 */
export function piecesTrouble(typed: string, lostOf: number | null): string {
  const text = typed.trim();
  if (text === '' && lostOf !== null && lostOf > 1)
    return `Enter how many of the ${lostOf} pieces are left; 0 if none.`;
  if (text === '') return '';
  if (!/^\d+$/.test(text)) return 'Enter a whole number of pieces, like 3.';
  if (lostOf !== null && Number(text) >= lostOf)
    return `Enter how many are left: fewer than the ${lostOf} there were.`;
  return '';
}
