// Setting slots by tapping or by drawing over them: once a value is chosen, each sets a slot at once. Without this script the taps stay
// checked boxes, which are set together when the form is saved.

const form = document.querySelector<HTMLElement>('[data-slots]')?.closest('form') ?? null;

const chosenValue = (): HTMLInputElement | null =>
  form?.querySelector<HTMLInputElement>('[name="stretchValue"]:checked') ?? null;

function setSlot(checkbox: HTMLInputElement, choice: HTMLInputElement): void {
  const label = checkbox.closest('label');
  const value = label?.querySelector<HTMLInputElement>('input[type="hidden"]');
  const words = label?.querySelector('.now-value');
  if (!value || !words) return;
  value.value = choice.value;
  words.textContent = choice.closest('label')?.textContent?.trim() ?? choice.value;
  label?.classList.add('set');
  checkbox.checked = false;
}

form?.addEventListener('change', (event) => {
  const changed = event.target;
  if (!(changed instanceof HTMLInputElement)) return;
  const choice = chosenValue();
  if (choice === null) return;
  if (changed.name === 'picked') setSlot(changed, choice);
  // Slots that were tapped before a value was chosen.
  if (changed.name === 'stretchValue')
    for (const one of form.querySelectorAll<HTMLInputElement>('[name="picked"]:checked'))
      setSlot(one, choice);
});

/** The box where the pointer went down, while it draws; a tap that stays there is a click like any other. */
let from: HTMLInputElement | null = null;

const boxOf = (element: Element | null): HTMLInputElement | null =>
  element?.closest('[data-slots] label')?.querySelector<HTMLInputElement>('[name="picked"]') ?? null;

form?.addEventListener('pointerdown', (event) => {
  from = event.button === 0 && chosenValue() !== null ? boxOf(event.target as Element | null) : null;
});
addEventListener('pointermove', (event) => {
  const choice = chosenValue();
  if (from === null || choice === null) return;
  const box = boxOf(document.elementFromPoint(event.clientX, event.clientY));
  if (box === null || box === from) return;
  setSlot(from, choice);
  setSlot(box, choice);
});
for (const end of ['pointerup', 'pointercancel']) addEventListener(end, () => (from = null));
