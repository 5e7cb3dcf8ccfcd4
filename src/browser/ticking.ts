// Ticked lots in a list: says how many there are, and lets links of the page carry the ticks. Without this script the form
// carries them, and its links those of the pages before.

const form = document.querySelector<HTMLFormElement>('[data-ticking]');
const bar = form?.querySelector<HTMLElement>('[data-tick-bar]') ?? null;
const words = bar?.querySelector<HTMLElement>('[data-tick-words]') ?? null;

const boxes = (): HTMLInputElement[] => [
  ...(form?.querySelectorAll<HTMLInputElement>('input[name="lot"]') ?? []),
];

function ticked(): string[] {
  const elsewhere = form?.querySelector<HTMLInputElement>('input[name="ticked"]')?.value ?? '';
  const here = boxes()
    .filter((box) => box.checked)
    .map((box) => box.value);
  return [...elsewhere.split('.').filter((code) => code !== ''), ...here];
}

function show(): void {
  const codes = ticked();
  const count = codes.length;
  if (words !== null) words.textContent = count === 1 ? '1 lot ticked' : `${count} lots ticked`;
  for (const link of document.querySelectorAll<HTMLAnchorElement>('[data-keeps-ticks] a')) {
    const address = new URL(link.href);
    address.searchParams.delete('ticked');
    if (count > 0) address.searchParams.set('ticked', codes.join('.'));
    link.href = address.href;
  }
}

if (form !== null && bar !== null) {
  words?.setAttribute('role', 'status');
  form.addEventListener('change', show);
  // A page that comes back from the browser's memory has its boxes as they were left.
  addEventListener('pageshow', show);
  show();
}
