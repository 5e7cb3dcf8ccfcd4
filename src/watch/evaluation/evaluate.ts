import { setImmediate } from 'node:timers/promises';
import { openSince } from '../../alerts/alerts.ts';
import { applyPlan, loadOpen, update } from '../../alerts/apply.ts';
import { linkCauses } from '../../alerts/causes.ts';
import { type AlertPlan, diffAlerts, type OpenAlert } from '../../alerts/diff.rules.ts';
import { type Finding, keyText } from '../../alerts/finding.ts';
import { type Judged, keepJudged } from '../../alerts/gaps/gaps.ts';
import { eventKinds } from '../../farm/events/kinds.rules.ts';
import { change } from '../../platform/change.ts';
import { forgetMarks } from '../../platform/database/marks.ts';
import type { Service } from '../../platform/service.ts';
import { canonicalUnits, inKeptWords } from '../../platform/units/units.ts';
import { dateWords } from '../../platform/words/times.ts';
import { dayOf, daysBefore } from '../../science/numeric/time.ts';
import { keepProbeDoubts } from '../../water/trust/probe-doubts.ts';
import { withDoserLooks } from '../advice/doser-looks.rules.ts';
import { groundOf } from '../advice/ground.ts';
import { seenToDays, withoutSeenTo } from '../advice/seen-to.rules.ts';
import { withComposedAdvice } from '../advice/told.rules.ts';
import { type Action, actionsSince } from '../answers/actions.ts';
import { aftermathOf } from '../answers/aftermath.rules.ts';
import { currentFacts, type SystemFacts } from '../facts/facts.ts';
import { momentOfDay } from '../facts/types.ts';
import { isReplaced, successorOf } from '../rules/instruments/put-away.ts';
import { rules } from '../rules/registry.ts';
import type { FarmSettings } from '../settings/settings.rules.ts';
import { loadSettings } from '../settings/settings.ts';
import { underEvaluationLock } from './lock.ts';

type Evaluating = Pick<Service, 'db' | 'pool' | 'jobs' | 'log'>;

/**
 * Lets every rule judge the systems (and those whose kits they use) as they are at `now`, and brings their alerts up to
 * it: one transaction a system, one evaluation of a system at a time across all instances. A rule that breaks keeps no other
 * and no other system from being judged, its own alerts stay as they are, and pages say so (`alerts/gaps`).
 * @throws AggregateError once all else is done, where rules broke
 */
export async function evaluateSystems(
  service: Evaluating,
  systemIds: readonly string[] | 'all',
  now: Date,
): Promise<void> {
  const broken: Error[] = [];
  const evaluate = async () => {
    const book = await loadSettings(service.pool);
    for await (const facts of currentFacts(service.pool, systemIds === 'all' ? null : systemIds, now)) {
      const judged: Judged[] = [];
      for (const system of facts) {
        await keepVotes(service, system);
        const unjudged = new Set<string>();
        const findings = await judge(system, book, now, (rule, cause) => {
          unjudged.add(rule);
          service.log.error({ err: cause, rule, system: system.systemId }, 'a rule broke');
          broken.push(new Error(`The rule ${rule} broke in the system ${system.systemId}.`, { cause }));
        });
        await applyFindings(service, system, { findings, unjudged }, now);
        judged.push({ systemId: system.systemId, broken: [...unjudged] });
      }
      await keepJudged(service.pool, judged, now);
    }
    await linkCauses(service.pool);
    if (systemIds === 'all') await forgetMarks(service.pool);
  };
  await underEvaluationLock(service.pool, () => inKeptWords(canonicalUnits, evaluate));
  if (broken.length > 0) throw new AggregateError(broken, broken[0]?.message);
}

/** Which probes have no vote is kept for whatever shows or reckons with readings. */
async function keepVotes({ db }: Evaluating, { systemId, probeVotes }: SystemFacts): Promise<void> {
  if (probeVotes.length === 0) return;
  const probes = probeVotes.map(({ trace, doubt }) => ({ ...trace, doubt }));
  await db.$transaction((tx) => keepProbeDoubts(tx, systemId, probes));
}

/**
 * What all rules find in one system; between rules others get their turn.
 * @param onBroken is told of a rule that breaks, and the others go on; without it what the rule threw is thrown
 */
export async function judge(
  facts: SystemFacts,
  book: FarmSettings,
  now: Date,
  onBroken?: (rule: string, cause: unknown) => void,
): Promise<Finding[]> {
  if (facts.retired) return [];
  const findings: Finding[] = [];
  for (const rule of rules) {
    try {
      findings.push(...rule.evaluate(facts, book.here(rule, facts.systemId), now));
    } catch (error) {
      if (onBroken === undefined) throw error;
      onBroken(rule.name, error);
    }
    await setImmediate();
  }
  return findings;
}

/** A kit of this system, or a probe that stands in it. */
const uses = (facts: SystemFacts, kitId: string) =>
  facts.kits.some(({ id }) => id === kitId) || facts.probes.some((probe) => probe.kitId === kitId);

/** A kit that was put away keeps its alert until another that took its place was tested. */
function kitGone(facts: SystemFacts, kitId: string): string | null {
  const away = facts.kitsPutAway.find(({ id }) => id === kitId);
  if (away === undefined) return 'the kit is no longer used here';
  if (!isReplaced(away)) return null;
  const next = successorOf(away);
  return `${away.label} was put away; ${next?.label} took its place and was tested ${next?.tested} times beside another kit or of a standard`;
}

/** Why an alert's subject can no longer have one. */
function goneFrom(facts: SystemFacts, { subject, systemId }: OpenAlert): string | null {
  if (systemId !== facts.systemId) return null;
  if (facts.retired) return 'the system is no longer kept';
  if (subject.type === 'lot' && !facts.lots.some(({ id }) => id === subject.id))
    return 'the lot is no longer in this system';
  if (subject.type === 'kit' && !uses(facts, subject.id)) return kitGone(facts, subject.id);
  if (subject.type === 'rack' && !facts.racks.some(({ id }) => id === subject.id))
    return 'the rack is no longer in this system';
  if (subject.type === 'tank' && !facts.tanks.some(({ id }) => id === subject.id)) return 'the tank is gone';
  if (subject.type === 'correction' && !runs(facts, subject.id)) return 'the correction has ended';
  return null;
}

const runs = (facts: SystemFacts, correctionId: string) =>
  facts.corrections.some(({ id, toDay }) => id === correctionId && toDay === null);

/** A habit that is learnt anew since something happened: what was said of the old one no longer holds. */
function learntAnew({ events, timeZone }: SystemFacts, { rule, openedAt }: OpenAlert): string | null {
  const happened = events.at(-1);
  if (happened === undefined || happened.day < dayOf(openedAt)) return null;
  if (!rules.some(({ name, learns }) => name === rule && learns)) return null;
  const what = eventKinds[happened.kind].toLowerCase();
  return `${what} on ${dateWords(momentOfDay(happened.day), timeZone)}: this water’s habits are learnt again from there`;
}

/** What was done since the oldest open alert opened, and of late where a finding asks for what may have been seen to. */
async function actionsAbout(
  pool: Evaluating['pool'],
  { systemId, findings, now }: { systemId: string; findings: readonly Finding[]; now: Date },
): Promise<Action[]> {
  const open = await openSince(pool, systemId);
  const asks = findings.some(({ advice }) => advice.some((one) => one.asks !== undefined));
  const times = [...(open === null ? [] : [open]), ...(asks ? [daysBefore(now, seenToDays)] : [])];
  const since = times.toSorted((a, b) => a.getTime() - b.getTime())[0];
  return since === undefined ? [] : actionsSince(pool, { systemId, since, now });
}

const isQuiet = (plan: AlertPlan) => plan.changes.length === 0;

/**
 * Compares and writes in one transaction. Where nothing changed that anybody is told, only the findings are refreshed,
 * without a line in the journal.
 */
async function applyFindings(
  service: Evaluating,
  facts: SystemFacts,
  { findings, unjudged }: { findings: readonly Finding[]; unjudged: ReadonlySet<string> },
  now: Date,
): Promise<void> {
  const { systemId } = facts;
  const found = new Set(findings.map(keyText));
  const goneBecause = (alert: OpenAlert) =>
    goneFrom(facts, alert) ?? (found.has(keyText(alert)) ? null : learntAnew(facts, alert));
  const actions = await actionsAbout(service.pool, { systemId, findings, now });
  const aftermath = aftermathOf(facts, actions, now);
  const planned = (open: readonly OpenAlert[]) =>
    withComposedAdvice(
      diffAlerts({
        ...{ rules, now, goneBecause, aftermath },
        open: open.filter(({ rule }) => !unjudged.has(rule)),
        findings: withDoserLooks(withoutSeenTo(findings, { open, facts, actions, now }), { facts, actions }),
      }),
      open,
      systemId,
      groundOf(facts),
      now,
    );
  const quiet = await service.db.$transaction(async (tx) => {
    const plan = planned(await loadOpen(tx, systemId, findings));
    if (isQuiet(plan)) await update(tx, systemId, plan.updates, now);
    return isQuiet(plan);
  });
  if (quiet) return;
  await change({ ...service, now: () => now }, { accountId: null }, async (work) => {
    const plan = planned(await loadOpen(work.tx, systemId, findings));
    await applyPlan(work, systemId, plan);
    // Somebody may have put off or seen an alert in between; then there may be nothing left to tell.
    if (isQuiet(plan)) work.record('alert.followed', { type: 'system', id: systemId });
  });
}
