import { uuidv7 } from 'uuidv7';
import { diffAlerts, type OpenAlert } from '../../src/alerts/diff.rules.ts';
import { type Finding, keyText } from '../../src/alerts/finding.ts';
import type { Prisma } from '../../src/generated/prisma/client.ts';
import type { Service } from '../../src/platform/service.ts';
import { canonicalUnits, inKeptWords } from '../../src/platform/units/units.ts';
import { dayMs, hourMs, minuteMs } from '../../src/science/numeric/time.ts';
import { type Action, actionsSince } from '../../src/watch/answers/actions.ts';
import { aftermathOf } from '../../src/watch/answers/aftermath.rules.ts';
import { pastFacts, type SystemFacts } from '../../src/watch/facts/facts.ts';
import { rules } from '../../src/watch/rules/registry.ts';
import { loadSettings } from '../../src/watch/settings/settings.ts';
import { factsAt } from '../../src/watch/trials/past-facts.rules.ts';

/** So many mornings back the rules are asked what they would have said: longer than the oldest trouble is open, and back to when the last lots that came by road kept their polyps shut. */
const MORNINGS = 72;

/** What the hand wrote under alerts on work that was overdue, in turn. */
const DONE = [
  'Put on the list of the next walk',
  'Bottle was empty, another opened; tested on the next walk',
  'Forgotten on the short weekend walk, done since',
];

interface People {
  hand: { id: string; name: string };
  manager: { id: string; name: string };
}

type Row = Prisma.AlertCreateManyInput & { id: string };
type EventRow = Prisma.AlertEventCreateManyInput;

/**
 * Evaluates the last weeks morning by morning, from facts that are loaded once, and keeps the alerts there would have been,
 * who saw them and what was done. What would be quiet today is left out; the evaluation of today follows the others.
 */
export async function evaluatePast(service: Service, now: Date): Promise<void> {
  const { pool, db } = service;
  const accounts = await db.account.findMany();
  const by = (role: string) => accounts.find((one) => one.role === role) ?? { id: '', name: '' };
  const people = { hand: by('hand'), manager: by('manager') };
  const from = new Date(now.getTime() - MORNINGS * dayMs);
  const book = await loadSettings(pool);
  for await (const batch of pastFacts(pool, null, { from, now })) {
    for (const facts of batch) {
      const actions = await actionsSince(pool, { systemId: facts.systemId, since: from, now });
      const past = new Past(facts, actions, people);
      for (let morning = 0; morning <= MORNINGS; morning++) {
        const at = new Date(from.getTime() + morning * dayMs);
        inKeptWords(canonicalUnits, () => past.look(book, at));
      }
      const { alerts, events } = past.kept(now);
      await db.alert.createMany({ data: alerts });
      await db.alertEvent.createMany({ data: events });
    }
  }
}

/** The rules that can be tried on the past; the others know only how things stand today. */
const tried = rules.filter(({ untried }) => untried === undefined);

/** One system's alerts as they were followed. */
class Past {
  readonly #facts: SystemFacts;
  readonly #actions: Action[];
  readonly #people: People;
  #open: (OpenAlert & { seenAt: Date })[] = [];
  readonly #rows = new Map<string, Row>();
  #events: EventRow[] = [];
  #acts = 0;

  constructor(facts: SystemFacts, actions: Action[], people: People) {
    this.#facts = facts;
    this.#actions = actions;
    this.#people = people;
  }

  look(book: Awaited<ReturnType<typeof loadSettings>>, now: Date): void {
    const known = factsAt(this.#facts, now);
    const findings = tried.flatMap((rule) => rule.evaluate(known, book.here(rule, known.systemId), now));
    const done = this.#actions.filter(({ at }) => at <= now);
    const plan = diffAlerts({
      open: this.#open,
      findings,
      rules,
      now,
      goneBecause: () => null,
      aftermath: aftermathOf(known, done, now),
    });
    const ids = new Map(plan.keys);
    const updates = new Map(plan.updates.map((update) => [update.id, update]));
    this.#open = this.#open.flatMap((alert) => {
      const update = updates.get(alert.id);
      if (update === undefined) return [alert];
      const finding = update.finding ?? alert.finding;
      const severity = update.severity ?? alert.severity;
      const row = this.#rows.get(alert.id) as Row;
      Object.assign(row, {
        ...{ title: finding.title, severity, worst: update.worst, evaluatedAt: now },
        ...{ quietSince: update.quietSince, finding: asJson({ ...finding, reported: update.reported }) },
        ...(update.clearedReason === null ? {} : { clearedAt: now, clearedReason: update.clearedReason }),
      });
      const { reported, worst, quietSince } = update;
      return update.clearedReason === null
        ? [{ ...alert, finding, severity, reported, worst, quietSince, title: finding.title }]
        : [];
    });
    for (const finding of plan.opened) ids.set(keyText(finding), this.#opens(finding, now));
    for (const { kind, key, detail } of plan.changes)
      this.#events.push({ alertId: ids.get(key) ?? '', at: now, kind, detail: asJson(detail) });
  }

  #opens(finding: Finding, now: Date): string {
    const id = uuidv7();
    const { rule, subject, facet, systemId, severity, title, score } = finding;
    const reported = { score, severity };
    const seenAt = new Date(now.getTime() + hourMs + 20 * minuteMs);
    this.#rows.set(id, {
      ...{ id, rule, subjectType: subject.type, subjectId: subject.id, facet, systemId, severity, title },
      ...{ finding: asJson({ ...finding, reported }), worst: score, openedAt: now, evaluatedAt: now },
      ...{ seenAt, seenById: this.#people.manager.id },
    });
    this.#events.push(this.#person(id, seenAt, 'seen', { title }, 'manager'));
    this.#open.push({
      ...{ ...finding, id, finding, reported, openedAt: now, worst: score, seenAt },
      ...{ quietSince: null, putOffUntil: null, putOffWorst: null },
    });
    if (rule === 'overdue' && facet !== 'several') this.#acted(id, title, seenAt);
    return id;
  }

  /** The hand does something about it before noon and writes it under the alert. */
  #acted(alertId: string, title: string, after: Date): void {
    const at = new Date(after.getTime() + 2 * hourMs);
    const what = DONE[this.#acts++ % DONE.length] ?? '';
    this.#events.push(this.#person(alertId, at, 'acted', { title, what }, 'hand'));
    this.#actions.push({
      ...{ kind: 'said', at, who: this.#people.hand.name, subjectId: alertId },
      ...{ quantityCode: null, name: what, amount: null, before: null, contents: null },
    });
  }

  #person(alertId: string, at: Date, kind: string, detail: object, who: keyof People): EventRow {
    return { alertId, at, kind, detail: asJson(detail), accountId: this.#people[who].id };
  }

  /** What is kept: all that cleared before today, and of those still open the ones that would open anew today. */
  kept(now: Date): { alerts: Row[]; events: EventRow[] } {
    const fading = this.#open.filter(
      ({ quietSince, finding }) => quietSince !== null || finding.status !== 'fires',
    );
    const dropped = new Set(fading.map(({ id }) => id));
    const alerts = [...this.#rows.values()].filter(
      ({ id, openedAt, clearedAt }) =>
        !dropped.has(id) && openedAt < now && (clearedAt == null || clearedAt < now),
    );
    const kept = new Set(alerts.map(({ id }) => id));
    return { alerts, events: this.#events.filter(({ alertId, at }) => kept.has(alertId) && at < now) };
  }
}

const asJson = (value: object) => JSON.parse(JSON.stringify(value)) as Prisma.InputJsonObject;
