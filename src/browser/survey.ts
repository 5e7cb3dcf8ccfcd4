// Entering light readings: Enter goes to the next slot, a block pasted into one slot fills those beside and beneath it,
// and a CSV file is read into the field for pasting. The form works without this script too, only slower.

const fields = [...document.querySelectorAll<HTMLInputElement>('[data-survey] input')];
const columns = document.querySelectorAll('[data-survey] thead th').length;

const focusField = (to: number): void => {
  fields[to]?.focus();
  fields[to]?.select();
};

function onKey(event: KeyboardEvent, at: number): void {
  const steps: Record<string, number> = { Enter: 1, ArrowDown: columns, ArrowUp: -columns };
  const step = steps[event.key];
  if (step === undefined) return;
  event.preventDefault();
  focusField(at + step);
}

function onPaste(event: ClipboardEvent, at: number): void {
  const text = event.clipboardData?.getData('text') ?? '';
  const lines = text.trim().split(/\r?\n/);
  const block = lines.map((line) => line.split('\t'));
  if (block.length === 1 && (block[0]?.length ?? 0) < 2) return;
  event.preventDefault();
  const left = at % columns;
  for (const [i, line] of block.entries())
    for (const [j, value] of line.entries()) {
      const field = left + j < columns ? fields[at + i * columns + j] : undefined;
      if (field !== undefined) field.value = value.trim();
    }
}

for (const [at, field] of fields.entries()) {
  field.addEventListener('keydown', (event) => onKey(event, at));
  field.addEventListener('paste', (event) => onPaste(event, at));
}

const chooser = document.querySelector<HTMLElement>('[data-file]');
const pasted = document.querySelector<HTMLTextAreaElement>('#pasted');
if (chooser !== null && pasted !== null) {
  chooser.hidden = false;
  chooser.querySelector('input')?.addEventListener('change', async (event) => {
    const file = (event.currentTarget as HTMLInputElement).files?.[0];
    if (file !== undefined) pasted.value = await file.text();
  });
}
