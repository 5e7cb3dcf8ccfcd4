import type { TabletPage } from '../store/types.ts';

type Drawn = TabletPage;

/** Whether somebody is typing on the screen, which is then not drawn anew under their hands. */
export function isTyping(): boolean {
  return [
    ...document.querySelectorAll<HTMLInputElement>('main input:not([type="hidden"], [type="file"])'),
  ].some(
    (input) =>
      input === document.activeElement ||
      (input.type === 'radio' || input.type === 'checkbox'
        ? input.checked !== input.defaultChecked
        : input.value !== input.defaultValue),
  );
}

export const documentTitle = ({ title }: Drawn) => `${title} · Evenwater`;

/** Places that the tablet fills by itself: what stands there stays, with what somebody opened or typed in it. */
const filledHere = ['[data-sent]', '[data-refused-here]'];

/**
 * Draws a screen; the focus stays on what has it, if that is still there.
 * @param again the same screen as it is now, drawn while somebody looks at it: the notice on top and what was opened stay too
 */
export function showScreen({ title, html }: Drawn, again = false): void {
  const main = document.querySelector('main');
  if (main === null) return;
  main.toggleAttribute('data-again', again);
  const focused = main.contains(document.activeElement) ? selectorOf(document.activeElement) : null;
  const filled = filledHere.map((place) => [...(main.querySelector(place)?.childNodes ?? [])]);
  const notice = again ? main.querySelector(':scope > .notice:first-child') : null;
  const opened = new Set(again ? foldsOf(main).flatMap(([name, fold]) => (fold.open ? name : [])) : []);
  main.innerHTML = html;
  if (notice !== null) main.prepend(notice);
  for (const [i, place] of filledHere.entries())
    main.querySelector(place)?.replaceChildren(...(filled[i] ?? []));
  for (const [name, fold] of foldsOf(main)) if (opened.has(name)) fold.open = true;
  document.title = documentTitle({ title, html });
  if (focused !== null) main.querySelector<HTMLElement>(focused)?.focus({ preventScroll: true });
}

/** What is folded on a screen, by its words and which of that name it is. */
function foldsOf(main: HTMLElement): [string, HTMLDetailsElement][] {
  const seen = new Map<string, number>();
  return [...main.querySelectorAll('details')].map((fold) => {
    const words = fold.querySelector('summary')?.textContent ?? '';
    const nth = (seen.get(words) ?? 0) + 1;
    seen.set(words, nth);
    return [`${words} ${nth}`, fold];
  });
}

/** Says on top of a screen what is off and what wants testing again as it is now, though the screen was drawn before. */
export function showNews(html: string | undefined): void {
  const place = document.querySelector('[data-news]');
  if (place === null || html === undefined) return;
  const hadFocus = place.contains(document.activeElement);
  place.innerHTML = html;
  if (hadFocus) place.querySelector('button')?.focus({ preventScroll: true });
}

/** What finds the same link, button or field on a screen drawn anew. */
function selectorOf(element: Element | null): string | null {
  const plate = (element as HTMLElement | null)?.dataset.plate;
  if (plate) return `[data-plate="${plate}"][data-first]`;
  const lot = element?.closest<HTMLElement>('li[data-lot]')?.dataset.lot;
  if (lot && element?.matches('.round-row')) return `li[data-lot="${lot}"] .round-row`;
  const [href, name, id] = [element?.getAttribute('href'), element?.getAttribute('name'), element?.id];
  if (href) return `a[href="${CSS.escape(href)}"]`;
  if (id) return `#${CSS.escape(id)}`;
  if (name) return `[name="${CSS.escape(name)}"]`;
  return element?.hasAttribute('data-well') ? '[data-well]' : null;
}

/** Makes an element with properties and children. */
export const element = <K extends keyof HTMLElementTagNameMap>(
  tag: K,
  props: Partial<HTMLElementTagNameMap[K]> = {},
  ...children: (Node | string)[]
): HTMLElementTagNameMap[K] => {
  const made = Object.assign(document.createElement(tag), props);
  made.append(...children);
  return made;
};

/** The small square before a word of urgency. */
export function mark(ink: string): HTMLSpanElement {
  const square = element('span', { className: `mark ${ink}` });
  square.setAttribute('aria-hidden', 'true');
  return square;
}

/**
 * How long a button takes no tap where the last one was, ms (own choice): the second tap of a wet glove comes within half a
 * second, and nobody has seen a rack in one. The style sheet holds the taps back by the same time, also before this runs.
 */
const deafMs = 1000;

/** When the screen that is shown arrived, so that a tap meant for the one before does nothing on it. */
export class Arrival {
  #at = performance.now();

  note(): void {
    this.#at = performance.now();
  }

  /** Whether a form at the foot was sent by a tap that was meant for the screen before. */
  isTooSoon(form: HTMLFormElement): boolean {
    return form.closest('.round-foot') !== null && performance.now() - this.#at < deafMs;
  }
}
