import { showRows } from '../round/rows.ts';
import { element } from '../round/screen.ts';
import type { KeptEmergency, KeptEntry } from './store.ts';
import { changed, isSetBack, keep, keptEmergencies, keptEmergency, putAside, sentAgain } from './store.ts';

const clock = (iso: string) =>
  new Date(iso).toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' });

/** What each kind of note is called, as the record calls it. */
const kinds: Record<string, string> = {
  ...{
    done: 'Done',
    undone: 'Not done after all',
    look: 'Look again',
    looked: 'Looked',
    off: 'Switched off',
  },
  ...{ running: 'Seen running', left_off: 'Stays off', called: 'Called', taken: 'Taken' },
};

const words = ({ kind, step, text }: KeptEntry): string =>
  [kinds[kind] ?? 'Note', text || step].filter((part) => part !== '').join(': ');

/**
 * Lists what the service did not take, each with why, and what a person can do: send it again, with other words, or put it
 * aside. `done` is called after each.
 */
export function listRefused(done: () => void): void {
  const place = document.querySelector<HTMLElement>('[data-refused-notes]');
  if (place === null) return;
  const all = keptEmergencies();
  const notes = all.flatMap(({ id, entries }) => entries.filter(isSetBack).map((entry) => ({ id, entry })));
  const records = all.filter((one) => one.refused !== '' && one.aside === undefined);
  place.hidden = notes.length + records.length === 0;
  // What this device keeps may have changed since a row was drawn: it is read again before it is written.
  const actOn = (id: string) => (to: Change) => {
    const now = keptEmergency(id);
    if (now !== undefined) keep(to(now));
    done();
  };
  showRows(
    place,
    new Map([
      ...records.map((one) => [one.id, () => recordRow(one, actOn(one.id))] as const),
      ...notes.map(({ id, entry }) => [entry.id, () => noteRow(entry, actOn(id))] as const),
    ]),
  );
}

type Change = (one: KeptEmergency) => KeptEmergency;
type Act = (to: Change) => void;

function recordRow(one: KeptEmergency, act: Act): HTMLLIElement {
  const words = one.entries.map((entry) => entry.text).filter(Boolean);
  return element(
    'li',
    {},
    element('strong', {}, `Not taken: what was begun at ${clock(one.startedAt)}`),
    ` ${one.refused} ${words.join('; ')}`,
    element(
      'div',
      { className: 'toolbar' },
      button('Send it again', () => act((now) => ({ ...now, refused: '' }))),
      button('Put it aside', () => act((now) => ({ ...now, aside: new Date().toISOString() }))),
    ),
  );
}

function noteRow(entry: KeptEntry, act: Act): HTMLLIElement {
  return element(
    'li',
    {},
    element('strong', {}, `Not taken: ${words(entry)}`),
    element('span', { className: 'small' }, ` ${clock(entry.at)}`),
    element('br'),
    `${entry.refused ?? ''} Only this device holds it.`,
    element(
      'div',
      { className: 'toolbar' },
      button('Send it again', () => act((now) => sentAgain(now, entry.id))),
      button('Put it aside', () => act((now) => putAside(now, entry.id, new Date().toISOString()))),
    ),
    changeForm(entry, act),
  );
}

/** The typed words and minutes to change. A changed note is a new one: of the old one nothing is with the service. */
function changeForm(entry: KeptEntry, act: Act): HTMLDetailsElement {
  const text = field('text', 'Note', entry.text, 'text');
  const minutes = entry.minutes === undefined ? [] : [field('minutes', 'Minutes', entry.minutes, 'number')];
  const form = element(
    'form',
    { className: 'round-why' },
    text,
    ...minutes,
    element('button', { className: 'button' }, 'Send it changed'),
  );
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    event.stopPropagation();
    const typed = [...new FormData(form)].map(([name, value]) => [name, String(value)]);
    const fields = Object.fromEntries(typed) as { text: string; minutes?: string };
    act((now) => changed(now, entry.id, fields));
  });
  return element('details', {}, element('summary', {}, 'Change it'), form);
}

function field(name: string, label: string, value: string, type: string): HTMLLabelElement {
  const input = element('input', { name, type, maxLength: 1000 });
  input.setAttribute('value', value);
  return element('label', { className: 'field' }, element('span', {}, label), input);
}

function button(label: string, act: () => void): HTMLButtonElement {
  const one = element('button', { type: 'button', className: 'button quiet' }, label);
  one.addEventListener('click', act);
  return one;
}
