import type { AlertPlan, AlertUpdate, OpenAlert } from '../../alerts/diff.rules.ts';
import { type Finding, keyText } from '../../alerts/finding.ts';
import { arbitrate } from './arbiter.ts';
import type { Ground } from './ground.ts';
import { asGroups } from './groups.rules.ts';

/**
 * The plan with the advice of all alerts that stand open in the system after it composed together: those opened now,
 * those that go on, and those of which nothing can be told today. One that was acted on, or that its rule does not find
 * any more, asks for nothing but its look; while its water is dangerous, what else is told still waits for it. Alerts that are
 * told as one are as urgent as the worst of them.
 */
export function withComposedAdvice(
  plan: AlertPlan,
  open: readonly OpenAlert[],
  systemId: string,
  ground: Ground,
  now: Date,
): AlertPlan {
  const alerts = new Map(open.map((alert) => [alert.id, alert]));
  const shownBy = ({ id, finding }: AlertUpdate): OpenAlert['finding'] | null => {
    const alert = alerts.get(id);
    return finding ?? (alert?.systemId === systemId ? alert.finding : null);
  };
  const going = plan.updates.filter(
    ({ clearedReason, quietSince }) => clearedReason === null && quietSince === null,
  );
  const standing = going.map(shownBy).filter((one) => one !== null);
  const told = [...plan.opened, ...standing.filter((one) => one.found === undefined)];
  const waiting = standing.filter((one) => one.found !== undefined).map((one) => ({ ...one, advice: [] }));
  const putOff = new Set(open.filter(({ putOffUntil }) => putOffUntil !== null).map(keyText));
  const composed = arbitrate([...told, ...waiting].map(complete), ground, now, putOff);
  const byTold = new Map<Finding, Finding>(told.map((finding, i) => [finding, composed[i] ?? finding]));
  const composedPlan = {
    ...plan,
    opened: plan.opened.map((finding) => byTold.get(finding) ?? finding),
    updates: plan.updates.map((update) => {
      const shown = update.clearedReason === null ? shownBy(update) : null;
      if (shown === null) return update;
      if (shown.found !== undefined) return { ...update, finding: { ...shown, advice: [], later: '' } };
      return update.quietSince === null
        ? { ...update, finding: byTold.get(shown) ?? update.finding }
        : update;
    }),
  };
  return asGroups(composedPlan, open, now);
}

/** One that was kept before advice was data has its text alone. */
const complete = (finding: Finding): Finding => ({
  ...finding,
  advice: finding.advice ?? [],
  evidence: finding.evidence ?? [],
});
