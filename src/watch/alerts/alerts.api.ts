import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Advice } from '../../alerts/advice.ts';
import { type Alert, type AlertPlace, countAlerts, pageOfAlerts } from '../../alerts/alerts.ts';
import { watchGapsNow } from '../../alerts/gaps/gaps.ts';
import { laterSteps, stepsOf, stepsOfPiece } from '../../alerts/steps.ts';
import { moment, severity } from '../../platform/door/answer-parts.ts';
import { asks } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
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
  next: z.string().nullable().describe('The cursor of the next page; null at the end.'),
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

/** Alerts of one answer at most, and where nothing is asked (own choices: one with all its steps is some 4 kB). */
const mostAlerts = 200;
const usualAlerts = 50;

const howMany = `Ask for 1 to ${mostAlerts} alerts.`;

const querySchema = z.object({
  system: z.uuid().optional().describe('Of one system alone, by its id.'),
  subject: z.uuid().optional().describe('About one thing alone, by its id.'),
  limit: z.coerce
    .number(howMany)
    .int(howMany)
    .min(1, howMany)
    .max(mostAlerts, howMany)
    .default(usualAlerts)
    .describe('Alerts of a page at most.'),
  cursor: z
    .string()
    .optional()
    .describe('“next” of the page before, as it is; without it the list begins with the worst.'),
});

const placeSchema = z.tuple([z.enum(['now', 'today', 'watch']), z.number(), z.iso.datetime(), z.uuid()]);

/** @throws Refusal 422 for what is no cursor */
function placeIn(cursor: string): AlertPlace {
  try {
    return placeSchema.parse(JSON.parse(Buffer.from(cursor, 'base64url').toString()));
  } catch {
    throw new Refusal('This is no cursor of alerts. Take “next” of the page before as it is.', {
      field: 'cursor',
    });
  }
}

const cursorOf = (place: AlertPlace): string => Buffer.from(JSON.stringify(place)).toString('base64url');

async function listAlerts(service: Service, request: FastifyRequest) {
  const { system, subject, limit, cursor } = checked(querySchema, request.query);
  const filter = {
    siteId: request.site.id,
    ...(system === undefined ? {} : { systemId: system }),
    ...(subject === undefined ? {} : { subjectId: subject }),
  };
  const after = cursor === undefined ? null : placeIn(cursor);
  const now = service.now();
  const [{ alerts, next }, { putOff, nextBack, ...counts }, unwatched] = await Promise.all([
    pageOfAlerts(service.pool, filter, { after, limit }),
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
