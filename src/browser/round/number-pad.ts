/** The number pad beside the field that is being filled in: large keys, and the signs for below what the test sees and beyond its scale. */
export function followNumberPad(): void {
  // Keys of the pad keep the focus where it is.
  document.addEventListener('pointerdown', (event) => {
    if ((event.target as Element).closest('.pad')) event.preventDefault();
  });
  document.addEventListener('click', (event) => {
    const key = (event.target as Element).closest<HTMLElement>('.pad [data-key]');
    if (key !== null) press(key);
  });
}

function press(button: HTMLElement): void {
  const input = button.closest('form')?.querySelector<HTMLInputElement>('[data-pad]');
  const { key = '' } = button.dataset;
  if (key === 'skip' || input == null) return;
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
