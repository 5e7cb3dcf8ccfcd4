import { showWhole } from './screen.ts';

/** A number pad under the field that is being filled in: large keys, and the signs for below what the test sees and beyond its scale. */
export function showNumberPad(): void {
  document.addEventListener('focusin', ({ target }) => {
    if (target instanceof HTMLInputElement && target.dataset.pad !== undefined) openAt(target);
  });
  // Keys of the pad keep the focus where it is.
  document.addEventListener('pointerdown', (event) => {
    if ((event.target as Element).closest('.pad')) event.preventDefault();
  });
  document.addEventListener('click', (event) => {
    const key = (event.target as Element).closest<HTMLElement>('.pad [data-key]');
    if (key !== null) press(key);
  });
}

function openAt(input: HTMLInputElement): void {
  const form = input.closest('form');
  const template = document.querySelector<HTMLTemplateElement>('template#pad');
  if (form === null || template === null || form.querySelector('.pad') !== null) return;
  close();
  input.inputMode = 'none';
  form.append(template.content.cloneNode(true));
  const pad = form.querySelector<HTMLElement>('.pad');
  if (pad !== null) showWhole(pad);
}

const close = () => document.querySelector('form > .pad')?.remove();

function press(button: HTMLElement): void {
  const input = button.closest('form')?.querySelector<HTMLInputElement>('[data-pad]');
  const { key = '' } = button.dataset;
  if (key === 'note' || input == null) return;
  if (key === 'close') {
    close();
    return;
  }
  input.value = typed(input.value, key);
  input.dispatchEvent(new Event('input', { bubbles: true }));
}

/** What stands in the field after a key: one point at most, the sign for "below" in front, pressed again it goes. */
export function typed(before: string, key: string): string {
  if (key === 'back') return before.slice(0, -1);
  if (key === '<' || key === '>') {
    const number = before.replace(/^[<>]/, '');
    return before.startsWith(key) ? number : `${key}${number}`;
  }
  if (key === '.' && /[.,]/.test(before)) return before;
  return before + key;
}
