// On every page: counts down the pumps that are off, and shows those switched off since the page was loaded.
import { followPumps } from './round/pumps-news.ts';
import { runTimers } from './round/timer.ts';

const banner = () => document.querySelector<HTMLElement>('.pumps-off-now');
const shownFeedings = () =>
  [...document.querySelectorAll<HTMLElement>('[data-feeding]')].map(({ dataset }) => dataset.feeding ?? '');

runTimers(document.documentElement.dataset.now);
followPumps(shownFeedings, ({ html }) => {
  // A page that lists feedings itself shows them in its list; the banner has only the others.
  banner()?.remove();
  document.querySelector('main')?.insertAdjacentHTML('afterbegin', html);
  const inPage = new Set(
    [...document.querySelectorAll<HTMLElement>('.alert-row[data-feeding]')].map((row) => row.dataset.feeding),
  );
  for (const form of banner()?.querySelectorAll<HTMLElement>('[data-feeding]') ?? []) {
    if (inPage.has(form.dataset.feeding)) form.remove();
  }
  if (banner()?.querySelector('[data-feeding]') === null) banner()?.remove();
});
