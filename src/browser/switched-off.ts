// On every page: counts down what is off for now, and shows what was switched off since the page was loaded.
import { followOff } from './round/off-news.ts';
import { runTimers } from './round/timer.ts';

const banner = () => document.querySelector<HTMLElement>('.off-now');
const shownOff = () =>
  [...document.querySelectorAll<HTMLElement>('[data-off]')].map(({ dataset }) => dataset.off ?? '');

runTimers(document.documentElement.dataset.now);
followOff(shownOff, ({ html }) => {
  // A page that lists what is off itself shows them in its list; the banner has only the others.
  banner()?.remove();
  document.querySelector('main')?.insertAdjacentHTML('afterbegin', html);
  const inPage = new Set(
    [...document.querySelectorAll<HTMLElement>('.alert-row[data-off]')].map((row) => row.dataset.off),
  );
  for (const form of banner()?.querySelectorAll<HTMLElement>('[data-off]') ?? []) {
    if (inPage.has(form.dataset.off)) form.remove();
  }
  if (banner()?.querySelector('[data-off]') === null) banner()?.remove();
});
