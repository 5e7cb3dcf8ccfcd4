import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Advice } from '../../alerts/advice.ts';
import { type Alert, openAlerts } from '../../alerts/alerts.ts';
import { laterSteps, stepsOf, stepsOfPiece } from '../../alerts/steps.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';

/** Open alerts as JSON. */
export function alertApi(app: FastifyInstance, service: Service): void {
  app.get('/api/alerts', (request) => listAlerts(service, request));
}

const querySchema = z.object({ system: z.uuid().optional(), subject: z.uuid().optional() });

async function listAlerts(service: Service, request: FastifyRequest) {
  const { system, subject } = checked(querySchema, request.query);
  const alerts = await openAlerts(service.pool, {
    siteId: request.site.id,
    ...(system === undefined ? {} : { systemId: system }),
    ...(subject === undefined ? {} : { subjectId: subject }),
  });
  const now = service.now();
  const putOff = alerts.flatMap(({ causeId, putOffUntil }) =>
    causeId === null && putOffUntil !== null && putOffUntil > now ? [putOffUntil] : [],
  );
  const open = alerts.filter(({ causeId }) => causeId === null).length - putOff.length;
  const nextBack = putOff.sort((a, b) => a.getTime() - b.getTime())[0] ?? null;
  const all = system === undefined && subject === undefined;
  const isShown = ({ causeId, putOffUntil }: Alert) =>
    causeId === null && (putOffUntil === null || putOffUntil <= now);
  const figures = (['now', 'today', 'watch'] as const).map((severity) => {
    const value = alerts.filter((alert) => alert.severity === severity && isShown(alert)).length;
    return { name: `alerts.${severity}`, of: request.site.id, value };
  });
  return {
    open,
    putOff: putOff.length,
    nextBack,
    ...(all ? { figures } : {}),
    alerts: alerts.map(alertJson),
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
