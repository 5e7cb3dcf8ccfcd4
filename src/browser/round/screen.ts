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

/** Draws a screen, under a notice if one is to stay; the focus stays on what has it, if that is still there. */
export function showScreen({ title, html }: Drawn, notice: Element | null = null): void {
  const main = document.querySelector('main');
  if (main === null) return;
  const focused = main.contains(document.activeElement) ? selectorOf(document.activeElement) : null;
  const said = [...(main.querySelector('[data-sent]')?.childNodes ?? [])];
  main.innerHTML = html;
  if (notice !== null) main.prepend(notice);
  main.querySelector('[data-sent]')?.replaceChildren(...said);
  document.title = documentTitle({ title, html });
  if (focused !== null) main.querySelector<HTMLElement>(focused)?.focus({ preventScroll: true });
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
