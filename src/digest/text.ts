import { stepsOf } from '../alerts/steps.ts';
import type { Service } from '../platform/service.ts';
import type { SavedDigest } from './digests.ts';

/** The digest as a letter in plain text. */
export function digestText(service: Service, site: { timeZone: string }, digest: SavedDigest): string {
  const page = { now: digest.madeAt, timeZone: site.timeZone };
  return service.views.render('digest/digest.txt', { digest, ...digestView(digest), page }, null).trim();
}

/** Alerts that are only to be watched: this many are listed, the others counted, so that the digest stays on one page (own choice). */
const watchedShown = 5;

/** The content sorted for drawing. */
export function digestView({ content }: Pick<SavedDigest, 'content'>) {
  const of = (severity: string) =>
    content.alerts
      .filter((alert) => alert.severity === severity)
      .map((alert) => ({ ...alert, steps: alert.steps ?? stepsOf(alert) }));
  const groups = [
    { severity: 'now', word: 'Act now', alerts: of('now') },
    { severity: 'today', word: 'Today', alerts: of('today') },
    { severity: 'watch', word: 'Watch', alerts: of('watch').slice(0, watchedShown) },
  ].filter((group) => group.alerts.length > 0);
  return { content, groups, unshown: Math.max(0, of('watch').length - watchedShown) };
}
