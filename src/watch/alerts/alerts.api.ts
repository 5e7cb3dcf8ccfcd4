import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Advice } from '../../alerts/advice.ts';
import { type Alert, type AlertPlace, countAlerts, pageOfAlerts } from '../../alerts/alerts.ts';
import { watchGapsNow } from '../../alerts/gaps/gaps.ts';
import { laterSteps, stepsOf, stepsOfPiece } from '../../alerts/steps.ts';
import { moment, severity } from '../../platform/door/answer-parts.ts';
import { cursorOf, nextCursor, pageAsked, pageFields } from '../../platform/door/pages.ts';
import { asks } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { headingOf } from '../rules/registry.ts';

/** Open alerts as JSON. */
export function alertApi(app: FastifyInstance, service: Service): void {
  app.get('/api/alerts', asks(querySchema, answerSchema), (request) => listAlerts(service, request));
}

const amount = { label: z.string(), value: z.number(), text: z.string(), unit: z.string() };
const step = z.looseObject({ text: z.string(), note: z.string() });

/** What is answered, for the document: what programs rely on; more may stand beside. */
const answerSchema = z.looseObject({
  open: z.number().int().describe('Open, not put off, and not explained by another.'),
  putOff: z.number().int(),
  nextBack: moment.nullable(),
  unwatched: z
    .array(z.object({ words: z.string(), severity: z.enum(['now', 'today']) }))
    .describe('What no alert of the site can tell, since the watch did not look there; empty where it did.'),
  next: nextCursor,
  alerts: z.array(
    z.looseObject({
      id: z.uuid(),
      rule: z.string(),
      severity: severity,
      title: z.string(),
      system: z.string(),
      systemId: z.uuid(),
      subject: z.object({ type: z.string(), id: z.uuid() }),
      score: z.number(),
      numbers: z.string(),
      number: z.looseObject(amount),
      limit: z.looseObject({ ...amount, source: z.string() }),
      why: z.string(),
      firstStep: z.string(),
      steps: z.array(step),
      laterSteps: z.array(step),
      openedAt: moment,
      evaluatedAt: moment,
      seenAt: moment.nullable(),
      putOffUntil: moment.nullable(),
      causeId: z.uuid().nullable().describe('The alert that explains this one.'),
    }),
  ),
});

/** One alert with all its steps is some 4 kB (own choices). */
const bounds = { things: 'alerts', most: 200, usual: 50 };

const querySchema = z.object({
  system: z.uuid().optional().describe('Of one system alone, by its id.'),
  subject: z.uuid().optional().describe('About one thing alone, by its id.'),
  ...pageFields(bounds),
});

const placeSchema = z.tuple([
  z.enum(['now', 'today', 'watch']),
  z.int().min(0).max(2),
  z.number(),
  z.iso.datetime(),
  z.uuid(),
]);

async function listAlerts(service: Service, request: FastifyRequest) {
  const { system, subject, ...paged } = checked(querySchema, request.query);
  const filter = {
    siteId: request.site.id,
    ...(system === undefined ? {} : { systemId: system }),
    ...(subject === undefined ? {} : { subjectId: subject }),
  };
  const page = pageAsked<AlertPlace>(paged, placeSchema, bounds);
  const now = service.now();
  const [{ alerts, next }, { putOff, nextBack, ...counts }, unwatched] = await Promise.all([
    pageOfAlerts(service.pool, filter, page),
    countAlerts(service.pool, filter, now),
    watchGapsNow(service.pool, request.site, headingOf, now),
  ]);
  const all = system === undefined && subject === undefined;
  const figures = (['now', 'today', 'watch'] as const).map((severity) => ({
    ...{ name: `alerts.${severity}`, of: request.site.id, value: counts[severity] },
  }));
  return {
    open: counts.now + counts.today + counts.watch,
    putOff,
    nextBack,
    ...(all ? { figures } : {}),
    unwatched,
    alerts: alerts.map(alertJson),
    next: next === null ? null : cursorOf(next),
  };
}

/** An alert as JSON has it: times in ISO 8601, the finding's parts by name. */
function alertJson(alert: Alert) {
  const { finding, subjectType, subjectId, systemName, version: _, ...rest } = alert;
  const {
    numbers,
    number,
    limit,
    figures,
    said,
    why,
    advice,
    firstStep,
    later,
    question,
    evidence,
    score,
    answer,
  } = finding;
  return {
    ...rest,
    system: systemName,
    subject: { type: subjectType, id: subjectId },
    score,
    numbers,
    number,
    limit,
    figures,
    said,
    why,
    firstStep,
    steps: stepsOf(finding),
    laterSteps: laterSteps(finding),
    advice: (advice ?? []).map((one) => adviceJson(one, alert)),
    later: later ?? '',
    question,
    evidence,
    answer: answer ?? null,
  };
}

/** A piece of advice: its place in the order, whom it concerns, what is done to what, and whether it waits. */
function adviceJson(
  { phase, text, note = '', acts, free, on, waits }: Advice,
  { severity, subjectType, subjectId }: Alert,
) {
  const subject = on ?? { type: subjectType, id: subjectId };
  return {
    phase,
    text,
    note,
    steps: stepsOfPiece({ text, note }),
    subject,
    urgency: severity,
    acts,
    costsNothing: free,
    waits: waits === true,
  };
}
