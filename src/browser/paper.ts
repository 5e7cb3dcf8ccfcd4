// Lists on paper: prints the page, and lets Enter go from field to field while what was written is typed in.

const print = document.querySelector<HTMLButtonElement>('[data-print]');
if (print !== null) {
  print.hidden = false;
  print.addEventListener('click', () => globalThis.print());
}

const fields = [
  ...document.querySelectorAll<HTMLInputElement | HTMLSelectElement>(
    '[data-typing] tbody :is(input, select)',
  ),
];
for (const [at, field] of fields.entries())
  field.addEventListener('keydown', (event) => {
    if ((event as KeyboardEvent).key !== 'Enter') return;
    event.preventDefault();
    const next = fields[at + 1];
    if (next === undefined)
      document.querySelector<HTMLButtonElement>('[data-typing] .toolbar button')?.focus();
    else next.focus();
    if (next instanceof HTMLInputElement) next.select();
  });
