// Counts down the pumps that are off, on whatever page somebody stands, and tells of those switched off since.
import { followPumps } from './round/pumps-news.ts';
import { runTimers } from './round/timer.ts';

const banner = () => document.querySelector<HTMLElement>('.pumps-off-now');
const drawn = () =>
  [...document.querySelectorAll<HTMLElement>('[data-feeding]')].map(({ dataset }) => dataset.feeding ?? '');

runTimers(document.documentElement.dataset.now);
followPumps(drawn, ({ html }) => {
  // A page that lists them itself says so when it is next loaded; here only what is new stands in the banner.
  banner()?.remove();
  document.querySelector('main')?.insertAdjacentHTML('afterbegin', html);
  const listed = new Set(
    [...document.querySelectorAll<HTMLElement>('.alert-row[data-feeding]')].map((row) => row.dataset.feeding),
  );
  for (const form of banner()?.querySelectorAll<HTMLElement>('[data-feeding]') ?? []) {
    if (listed.has(form.dataset.feeding)) form.remove();
  }
  if (banner()?.querySelector('[data-feeding]') === null) banner()?.remove();
});
