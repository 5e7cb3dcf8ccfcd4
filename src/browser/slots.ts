// Slots set by tapping: once something is chosen, each tap sets a slot at once; without this the taps are kept as ticks
// and set together when the form is saved.

const form = document.querySelector<HTMLElement>('[data-slots]')?.closest('form') ?? null;

const chosen = (): HTMLInputElement | null =>
  form?.querySelector<HTMLInputElement>('[name="stretchValue"]:checked') ?? null;

function set(tapped: HTMLInputElement, wanted: HTMLInputElement): void {
  const label = tapped.closest('label');
  const value = label?.querySelector<HTMLInputElement>('input[type="hidden"]');
  const words = label?.querySelector('.now-value');
  if (!value || !words) return;
  value.value = wanted.value;
  words.textContent = wanted.closest('label')?.textContent?.trim() ?? wanted.value;
  label?.classList.add('set');
  tapped.checked = false;
}

form?.addEventListener('change', (event) => {
  const changed = event.target;
  if (!(changed instanceof HTMLInputElement)) return;
  const wanted = chosen();
  if (wanted === null) return;
  if (changed.name === 'picked') set(changed, wanted);
  // Slots that were tapped before anything was chosen.
  if (changed.name === 'stretchValue')
    for (const one of form.querySelectorAll<HTMLInputElement>('[name="picked"]:checked')) set(one, wanted);
});
