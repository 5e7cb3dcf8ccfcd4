/** What is known of the lots of a rack while it is passed. */
export interface RackCount {
  /** Lots with an entry of their own on this round. */
  noted: number;
  /** Not well at the last check, which one tap can say to be no worse. */
  sick: number;
  /** With pieces lost at the last look: one tap says nothing of them. */
  lost: number;
  /** All others. */
  well: number;
}

const lots = (count: number, which = '') => `${count} ${which}${count === 1 ? 'lot' : 'lots'}`;

/** What the one tap for a rack says, and what exactly it will note. The service and the tablet both say it by this. */
export function passWords({ noted, sick, lost, well }: RackCount): { text: string; notes: string } {
  const notes = [
    sick > 0 ? `${lots(sick)} sick: no worse` : '',
    well > 0 ? `${sick + noted + lost > 0 ? lots(well, 'other ') : lots(well)}: well` : '',
    lost > 0 ? `${lots(lost)} with losses: nothing` : '',
  ].filter((part) => part !== '');
  const others = noted > 0 ? 'others ' : '';
  if (sick > 0) return { text: `All ${others}as before`, notes: notes.join('; ') };
  if (well > 0) return { text: noted + lost > 0 ? 'All others well' : 'All well', notes: notes.join('; ') };
  return { text: 'Rack looked at', notes: notes.join('; ') || 'each lot is noted' };
}
