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
