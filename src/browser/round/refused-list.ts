import type { QueuedEntry, TabletEntry } from '../store/types.ts';
import { showRows } from './rows.ts';
import { element } from './screen.ts';

/** What a person may do with an entry that was set aside. */
export interface RefusedActions {
  sendAgain(kept: QueuedEntry): Promise<void>;
  /** With other words in place of those that were typed. */
  change(kept: QueuedEntry, fields: Record<string, string>): Promise<void>;
  leaveOut(kept: QueuedEntry, why: string): Promise<void>;
}

/** The fields that a person types or chooses, as they are called on the screens. */
const typedFields: Record<string, string> = {
  state: 'State',
  pest: 'Which pest',
  pestCount: 'How many counted',
  grade: 'How much of it',
  pieces: 'Pieces',
  text: 'Value',
  unit: 'Unit',
  food: 'Food',
  amountG: 'Amount',
  amountUnit: 'Unit',
  amount: 'Amount',
  minutes: 'Minutes',
  seen: 'What you saw',
  why: 'Why',
  response: 'How it was taken',
  note: 'Note',
  what: 'What is left out',
};
/** Chosen from a list, so not to be typed over. */
const chosen: ReadonlySet<string> = new Set(['state', 'grade', 'unit', 'pest']);

/** "R46-TKR, B7: paling; tips white": what was typed, in the order of the screens. */
export function typedWords({ label, kind, ...fields }: TabletEntry): string {
  const typed = Object.keys(typedFields).flatMap((name) =>
    chosen.has(name) ? (fields[name] ?? '').replaceAll('_', ' ') || [] : fields[name] || [],
  );
  const what = typed.length > 0 ? typed.join('; ') : kind.replaceAll('_', ' ');
  return label === '' ? what : `${label}: ${what}`;
}

/** Lists, on the page where the round is ended, the entries that only this tablet holds. */
export function listRefusedEntries(kept: readonly QueuedEntry[], actions: RefusedActions): void {
  const place = document.querySelector<HTMLElement>('[data-refused-here]');
  if (place === null) return;
  showRows(place, new Map(kept.map((one) => [`${one.id} ${one.why}`, () => row(one, actions)])));
}

function row(kept: QueuedEntry, actions: RefusedActions): HTMLLIElement {
  const again = element('button', { type: 'button', className: 'button' }, 'Send it again');
  again.addEventListener('click', () => void actions.sendAgain(kept));
  const tapped = new Date(kept.entry.at);
  const time = Number.isNaN(tapped.getTime())
    ? ''
    : tapped.toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' });
  return element(
    'li',
    {},
    element('strong', {}, `Not taken: ${typedWords(kept.entry)}`),
    element('span', { className: 'small' }, ` ${time}`),
    element('br'),
    `${kept.why} Only this tablet holds it.`,
    element('div', { className: 'toolbar' }, again),
    ...changeForm(kept, actions),
    leaveOutForm(kept, actions),
  );
}

function changeForm(kept: QueuedEntry, actions: RefusedActions): HTMLElement[] {
  const names = Object.keys(typedFields).filter((name) => name in kept.entry && !chosen.has(name));
  if (names.length === 0) return [];
  const fields = names.map((name) => field(name, typedFields[name] ?? name, kept.entry[name] ?? ''));
  return [folded('Change it', fields, 'Send it changed', (typed) => actions.change(kept, typed))];
}

function leaveOutForm(kept: QueuedEntry, actions: RefusedActions): HTMLElement {
  const why = field('why', 'Why it is left out', '');
  why.querySelector('input')?.setAttribute('required', '');
  return folded('Leave it out', [why], 'Leave out', ({ why: said = '' }) => actions.leaveOut(kept, said));
}

const field = (name: string, label: string, value: string) => {
  const input = element('input', { name, maxLength: 1000 });
  // As what stands there already, so that an untouched field does not count as typing.
  input.setAttribute('value', value);
  return element('label', {}, element('span', { className: 'small' }, label), input);
};

function folded(
  title: string,
  fields: HTMLElement[],
  button: string,
  act: (typed: Record<string, string>) => Promise<void>,
): HTMLDetailsElement {
  const form = element(
    'form',
    { className: 'round-why' },
    ...fields,
    element('button', { className: 'button quiet' }, button),
  );
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const typed = [...new FormData(form)].map(([name, value]) => [name, String(value)]);
    void act(Object.fromEntries(typed) as Record<string, string>);
  });
  return element('details', {}, element('summary', {}, title), form);
}
