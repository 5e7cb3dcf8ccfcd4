import { element } from '../round/screen.ts';
import type { KeptEmergency, KeptEntry } from './store.ts';
import { changed, isSetBack, keep, keptEmergencies, putAside, sentAgain } from './store.ts';

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
  const notes = all.flatMap((one) =>
    one.entries.filter(isSetBack).map((entry) => ({ one, entry, why: entry.refused ?? '' })),
  );
  const records = all.filter((one) => one.refused !== '' && one.aside === undefined);
  // Drawn only when something changed: nobody's typing is wiped.
  const shown = JSON.stringify([...records.map(({ id }) => id), ...notes.map(({ entry }) => entry.id)]);
  if (place.dataset.shown === shown) return;
  place.dataset.shown = shown;
  place.hidden = notes.length + records.length === 0;
  const act = (next: KeptEmergency) => {
    keep(next);
    done();
  };
  place.replaceChildren(
    ...records.map((one) => recordRow(one, act)),
    ...notes.map(({ one, entry, why }) => noteRow(one, entry, why, act)),
  );
}

type Act = (next: KeptEmergency) => void;

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
      button('Send it again', () => act({ ...one, refused: '' })),
      button('Put it aside', () => act({ ...one, aside: new Date().toISOString() })),
    ),
  );
}

function noteRow(one: KeptEmergency, entry: KeptEntry, why: string, act: Act): HTMLLIElement {
  return element(
    'li',
    {},
    element('strong', {}, `Not taken: ${words(entry)}`),
    element('span', { className: 'small' }, ` ${clock(entry.at)}`),
    element('br'),
    `${why} Only this device holds it.`,
    element(
      'div',
      { className: 'toolbar' },
      button('Send it again', () => act(sentAgain(one, entry.id))),
      button('Put it aside', () => act(putAside(one, entry.id, new Date().toISOString()))),
    ),
    changeForm(one, entry, act),
  );
}

/** The typed words and minutes to change. A changed note is a new one: of the old one nothing is with the service. */
function changeForm(one: KeptEmergency, entry: KeptEntry, act: Act): HTMLDetailsElement {
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
    act(changed(one, entry.id, Object.fromEntries(typed) as { text: string; minutes?: string }));
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
