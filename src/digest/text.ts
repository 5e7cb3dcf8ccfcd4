import type { Service } from '../platform/service.ts';
import type { KeptDigest } from './digests.ts';

/** The digest as a letter in plain text. */
export function digestText(service: Service, site: { timeZone: string }, digest: KeptDigest): string {
  const page = { now: digest.madeAt, timeZone: site.timeZone };
  return service.views.render('digest/digest.txt', { digest, ...digestView(digest), page }, null).trim();
}

/** What is only watched beyond this many is told as a number: decisions come first, on one page. */
const watchedShown = 5;

/** The content sorted for drawing. */
export function digestView({ content }: KeptDigest) {
  const of = (severity: string) => content.alerts.filter((alert) => alert.severity === severity);
  const groups = [
    { severity: 'now', word: 'Act now', alerts: of('now') },
    { severity: 'today', word: 'Today', alerts: of('today') },
    { severity: 'watch', word: 'Watch', alerts: of('watch').slice(0, watchedShown) },
  ].filter((group) => group.alerts.length > 0);
  return { content, groups, unshown: Math.max(0, of('watch').length - watchedShown) };
}
