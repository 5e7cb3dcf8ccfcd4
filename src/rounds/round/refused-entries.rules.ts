import { CONDITION_STATES } from '../../stock/base/condition-states.rules.ts';
import { stateWords } from './lot-rows.rules.ts';
import type { SavedEntry } from './saved-entries.ts';

/** An entry that was not taken and that nobody has mended. */
export interface RefusedEntry {
  id: string;
  at: Date;
  who: string | null;
  /** What was meant: "R46-TKR, B7: bleached, about a third". */
  what: string;
  why: string;
  /** Refused in doubt: taken when somebody says that it is really so. */
  asks: boolean;
  sent: Record<string, unknown>;
}

export function refusedEntries(notes: readonly SavedEntry[]): RefusedEntry[] {
  return notes
    .filter((note) => note.kind === 'refused' && note.detail.mended === undefined)
    .map(({ id, at, who, detail }) => {
      const sent = detail.sent ?? {};
      return {
        id,
        at,
        who,
        what: refusedEntryWords(sent),
        why: detail.why ?? '',
        asks: detail.asks === true,
        sent,
      };
    });
}

/** Lots with a note that was not taken and that nobody mended. */
export const untakenLots = (notes: readonly SavedEntry[]): Set<string> =>
  new Set(
    notes.flatMap(({ kind, lotId, detail }) =>
      kind === 'refused' && lotId !== null && detail.mended === undefined ? [lotId] : [],
    ),
  );

/** Notes that were not taken and that a person left out, with why. */
export function leftOutEntries(notes: readonly SavedEntry[]): { what: string; why: string }[] {
  return notes.flatMap(({ kind, detail }) => {
    if (kind === 'discarded') return [{ what: detail.what ?? '', why: detail.note ?? '' }];
    const why = kind === 'refused' ? detail.mended?.why : undefined;
    return why === undefined ? [] : [{ what: refusedEntryWords(detail.sent ?? {}), why }];
  });
}

const text = (value: unknown) =>
  typeof value === 'string' || typeof value === 'number' ? String(value) : '';

/** What was sent, in words a person can act on, whatever it was. */
export function refusedEntryWords(sent: Record<string, unknown>): string {
  const what = [conditionWords(sent), plainWords(sent), text(sent.note)].filter((part) => part !== '');
  const label = text(sent.label);
  return [label, what.join('; ')].filter((part) => part !== '').join(': ') || 'something unreadable';
}

function conditionWords(sent: Record<string, unknown>): string {
  const state = CONDITION_STATES.find((known) => known === sent.state);
  if (state === undefined) return text(sent.state);
  const grade = Number(text(sent.grade));
  return stateWords(state, grade > 0 ? grade : null);
}

function plainWords(sent: Record<string, unknown>): string {
  const pieces = text(sent.pieces);
  switch (sent.kind) {
    case 'rack_well':
      return text(sent.asBefore) === '' ? 'all well' : 'all as before';
    case 'take_back':
      return 'taken back';
    case 'feeding':
      return `fed ${text(sent.food)}`.trim();
    case 'pumps_on':
      return 'pumps on again';
    case 'task':
      return 'ticked off as done';
    case 'reading':
      return [text(sent.text), text(sent.unit)].join(' ').trim();
    case 'response':
      return text(sent.response);
    case 'chore':
      return 'ticked off';
    case 'finished':
      return 'round finished';
    case 'shelf_count':
      return shelfWords(sent);
    case 'discarded':
      return `left out: ${text(sent.what)}`;
    case 'skipped':
      return 'left out';
    default:
      return pieces === '' ? '' : `${pieces} ${pieces === '1' ? 'piece' : 'pieces'}`;
  }
}

/** "counted: 12, 4; found: blue tips 3". */
function shelfWords(sent: Record<string, unknown>): string {
  const counted = Object.keys(sent)
    .filter((name) => name.startsWith('n_'))
    .map((name) => text(sent[name]))
    .filter((one) => one !== '');
  const found = ['1', '2', '3']
    .map((row) => `${text(sent[`found_${row}`])} ${text(sent[`foundPieces_${row}`])}`.trim())
    .filter((one) => one !== '');
  const parts = [
    counted.length === 0 ? '' : `counted: ${counted.join(', ')}`,
    found.length === 0 ? '' : `found: ${found.join(', ')}`,
  ];
  return parts.filter((one) => one !== '').join('; ');
}
