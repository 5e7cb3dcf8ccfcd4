import { plural } from '../../platform/words/numbers.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import { lotHref } from '../base/lot-href.ts';
import type { Exposure } from '../light/exposure.ts';
import { lightWords } from '../light/words.ts';
import { causeWords } from '../losses/causes.rules.ts';
import { scientificNameWords } from '../lots/identifications.ts';
import { COUNT_REASONS } from '../lots/ledger.ts';
import { placeWords } from '../places/slots.ts';
import type { LotEvent } from './timeline.ts';

/** One line of a lot's timeline as the page shows it. */
export interface TimelineEntry {
  id: string;
  at: Date;
  what: string;
  note: string;
  who: string;
  href: string;
  voided: boolean;
  /** The address at which a noted condition or a change of the count is taken back; "" for every other entry. */
  voidHref: string;
  /** The address at which it is corrected; "" where it cannot be. */
  correctHref: string;
  /** The address of a photo that is not void; "" for every other entry. */
  photo: string;
}

interface EventWords {
  what: string;
  note?: string;
  href?: string;
  voided?: boolean;
  voidHref?: string;
  correctHref?: string;
  photo?: string;
}

const pieces = (n: number) => plural(n, 'piece', 'pieces');
const left = (n: number) => (n === 0 ? 'none left' : `${n} in all`);

type Ledger = Extract<LotEvent, { type: 'ledger' }>['detail'];

const ledgerWords: Readonly<Record<Ledger['reason'], (line: Ledger) => string>> = {
  received: ({ change }) => `${pieces(change)} received`,
  cut_in: ({ change, from, method }) =>
    `${pieces(change)} cut from ${from ?? 'another lot'}${method ? `, ${method.toLowerCase()}` : ''}`,
  cut_out: ({ change, into }) => `${pieces(-change)} cut up${into === null ? '' : ` for ${into}`}`,
  lost: ({ change, cause }) =>
    `${pieces(-change)} lost${cause === null || cause === 'unknown' ? '' : `: ${causeWords(cause).toLowerCase()}`}`,
  sold: ({ change }) => `${pieces(-change)} sold`,
  returned: ({ change }) => `${pieces(change)} came back`,
  merged: ({ change }) =>
    `${pieces(Math.abs(change))} ${change < 0 ? 'put into' : 'taken in from'} another lot`,
  split: ({ change }) =>
    `${pieces(Math.abs(change))} ${change < 0 ? 'split off' : 'came out of another lot'}`,
  recount: ({ change }) =>
    change === 0
      ? 'Recounted, as expected'
      : `Recounted: ${pieces(Math.abs(change))} ${change < 0 ? 'fewer' : 'more'}`,
};

/** Reasons that a person enters; the others are part of a cut, a split or an order. */
const countedByHand: ReadonlySet<Ledger['reason']> = new Set(COUNT_REASONS);

/** The light at a moment, in words. */
function lightAtStart(exposures: readonly Exposure[], at: Date): string {
  const piece = exposures.find(({ from, to }) => from <= at && (to === null || to > at));
  return piece === undefined ? 'light not measured there' : lightWords(piece);
}

function eventWords(
  event: LotEvent,
  lotPage: string,
  exposures: readonly Exposure[],
  times: TimeWords,
): EventWords {
  switch (event.type) {
    case 'ledger': {
      const { reason, voidReason, isPart } = event.detail;
      const what = ledgerWords[reason](event.detail);
      if (voidReason !== null) return { what, voided: true, note: voidReason };
      return {
        what: `${what}; ${left(event.detail.left)}`,
        correctHref: reason === 'received' ? `${lotPage}/received` : `/persons/ledger_entry/${event.id}`,
        voidHref: countedByHand.has(reason) && !isPart ? `/counts/${event.id}/voiding` : '',
      };
    }
    case 'placed': {
      const { rack, rackId, cells } = event.detail;
      const light = lightAtStart(exposures, event.at);
      return {
        what: `Placed: ${placeWords(rack, cells)}`,
        note: light,
        href: `/racks/${rackId}`,
        correctHref: `/placements/${event.id}/correction`,
      };
    }
    case 'left':
      return { what: `Taken off ${placeWords(event.detail.rack, event.detail.cells)}` };
    case 'condition': {
      const { state, grade, compared, voidReason } = event.detail;
      const what = conditionWords(state, grade, compared);
      if (voidReason !== null) return { what, voided: true, note: voidReason };
      return { what, voidHref: `/conditions/${event.id}/voiding` };
    }
    case 'photo': {
      const href = `/photos/${event.id}`;
      const { voidReason } = event.detail;
      if (voidReason !== null) return { what: 'Photo', href, voided: true, note: voidReason };
      return { what: 'Photo', href, photo: href };
    }
    case 'identified': {
      const { name, qualifier, by, on } = event.detail;
      return {
        what: `Identified as ${scientificNameWords(name, qualifier)}`,
        note: `by ${by}, ${times.day(on)}`,
      };
    }
    case 'cut_from': {
      const { into, pieces: cutPieces, method } = event.detail;
      const how = method === '' ? '' : `, ${method.toLowerCase()}`;
      return {
        what: `Cut: ${pieces(cutPieces)} into ${into}${how}`,
        href: lotHref(into),
        correctHref: `/persons/cut/${event.id}`,
      };
    }
    case 'tag': {
      const { pieces: tagPieces, tagId, withdrawn } = event.detail;
      const note = withdrawn === null ? '' : withdrawn;
      return {
        what: `Tag issued for ${pieces(tagPieces)}`,
        href: `/tags/${tagId}`,
        voided: withdrawn !== null,
        note,
      };
    }
    case 'alert': {
      const { title, alertId, cleared } = event.detail;
      const note = cleared === null ? 'still open' : `cleared ${times.moment(cleared)}`;
      return { what: `Alert: ${title}`, href: `/watch/${alertId}`, note };
    }
  }
}

/** How moments and days are written at the site. */
export interface TimeWords {
  moment(at: Date): string;
  day(day: string): string;
}

/** The timeline of the lot that has this page, in words. */
export function timelineEntries(
  lotPage: string,
  events: readonly LotEvent[],
  exposures: readonly Exposure[],
  times: TimeWords,
): TimelineEntry[] {
  return events.map((event) => {
    const {
      what,
      note = '',
      href = '',
      voided = false,
      voidHref = '',
      correctHref = '',
      photo = '',
    } = eventWords(event, lotPage, exposures, times);
    const notes = [note, event.note].filter((text) => text !== '').join('. ');
    const who = event.who ?? '';
    return { id: event.id, at: event.at, what, note: notes, who, href, voided, voidHref, correctHref, photo };
  });
}
