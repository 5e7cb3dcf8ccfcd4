import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { litres } from '../../platform/units/measures.ts';
import { scales } from '../../platform/units/scales.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { isManager } from '../../platform/web/access.ts';
import { optionalChosen, optionalText } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { inputNumber, withSign } from '../../platform/words/numbers.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { acuteAt } from '../acute/acute-states.rules.ts';
import {
  type Correctable,
  caps,
  isCorrectable,
  type MeansCode,
  meansFor,
  meansName,
} from '../dosing/substances.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import {
  inputValue,
  listQuantities,
  type Quantity,
  say,
  sayDifference,
  sayReading,
  unitName,
} from '../quantities/quantities.ts';
import { heldBack, heldDoses } from '../systems/held-doses.ts';
import { findOpenWaterSystem } from '../systems/systems.ts';
import { listTargets } from '../targets/targets.ts';
import { acuteCautions } from './acute.rules.ts';
import {
  type CorrectionForm,
  correctionRequestSchema,
  targetProposed,
  usualCapWords,
  usualLimewaterDegC,
} from './corrections.schema.ts';
import { amountsSeen, correctableQuantity, planCorrection } from './corrections.ts';
import { draftCorrection, readStartingPoint, type StartingPoint, waitOf, whyNotYet } from './draft.ts';
import { driftSentence } from './drift.ts';
import { readCorrectionRecords } from './load.ts';
import { afterWords, correctionTitle, expectedWords, stepAmountWords } from './view.ts';

/** Planning a correction: what it is based on, what it would be, and only then the plan itself. */
export function newCorrectionPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/corrections/new', (request, reply) => showNew(service, request, reply));
  app.post('/water/systems/:id/corrections', takes(planned), (request, reply) =>
    postNew(service, request, reply),
  );
}

type Typed = Record<string, string>;

/** What was chosen so far: in the address while it is looked at, in the form once it is planned. */
function typedOf(request: FastifyRequest): Typed {
  const sent = { ...(request.query as object), ...(request.body as object | undefined) } as Record<
    string,
    unknown
  >;
  return Object.fromEntries(Object.entries(sent).filter(([, value]) => typeof value === 'string')) as Typed;
}

const blank = {
  target: '',
  dailyCap: '',
  capReason: '',
  startsOn: '',
  reason: '',
  purity: '',
  solutionName: '',
  solutionDose: '',
  solutionPer: '',
  solutionRise: '',
  evaporation: '',
  limeTemperature: '',
  makeUp: '',
  revises: '',
};

async function showNew(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
): Promise<FastifyReply> {
  const now = service.now();
  const system = await findOpenWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const typed = typedOf(request);
  const quantities = (await listQuantities(service.db)).filter((one) => isCorrectable(one.code));
  const code = isCorrectable(typed.quantity ?? '') ? typed.quantity : quantities[0]?.code;
  const quantity = await correctableQuantity(service.db, code ?? '');
  const start = await readStartingPoint(service.pool, system, request.site.timeZone, quantity, now);
  const running = await readCorrectionRecords(service.pool, { systemIds: [system.id], running: true });
  const revised = running.find((one) => one.id === typed.revises) ?? null;
  const means = meansFor[quantity.code].find((one) => one === typed.means) ?? meansFor[quantity.code][0];
  const kept = (await listTargets(service.db, system.id)).get(quantity.code);
  const today = localDay(now, request.site.timeZone);
  const asked = typed.show === 'yes' || refused !== undefined;
  const looked = asked ? look(start, typed, today) : { errors: [], preview: null, wait: null };
  const proposed =
    revised === null
      ? targetProposed(quantity, kept?.bandLow ?? null, kept?.bandHigh ?? null)
      : inputValue(quantity, revised.target);
  const fresh = freshForm({
    ...blank,
    target: proposed,
    purity: '100',
    limeTemperature: inputNumber(scales.degC.toReader(usualLimewaterDegC), 1),
    startsOn: today,
    makeUp: inputValue(quantity, kept?.makeUp ?? null),
    ...typed,
  });
  const held = heldBack(await heldDoses(service.pool, system.id, now), quantity.code);
  const form = {
    ...fresh,
    errors: refused?.errors ?? looked.errors,
    ...(refused === undefined ? {} : { key: refused.key }),
  };
  const data = {
    system,
    ...choicesOf(system.id, quantities, quantity, means ?? 'exchange', typed.revises ?? ''),
    held,
    start: { ...startView(start, now), acute: acutePoints(start, held.length > 0) },
    other: running.find((one) => one.quantity.code === quantity.code && one.id !== typed.revises) ?? null,
    revised:
      revised === null ? null : { id: revised.id, version: revised.version, title: correctionTitle(revised) },
    preview: looked.preview,
    wait: looked.wait,
    hidden: Object.entries({ ...blank, ...form.typed }).filter(
      ([name]) => name in blank && name !== 'revises',
    ),
    today,
    cap: { usual: usualCapWords(quantity), source: caps[quantity.code].source },
    mayPlan: isManager(request.person.role),
    volume: litres(system.volumeL),
    limewaterUnit: scales.degC.unit(),
    purityHint:
      quantity.code === 'calcium'
        ? 'As the label says; calcium chloride that has drawn water is below it.'
        : 'As the label says.',
  };
  return showPage(service, request, reply, 'water/correction-new', data, {
    title: `Plan a correction: ${system.name}`,
    area: 'water',
    form,
  });
}

/** The tabs of quantities and of means, each leading to this page with that chosen. */
function choicesOf(
  systemId: string,
  quantities: readonly Quantity[],
  quantity: Quantity & { code: Correctable },
  means: MeansCode,
  revises: string,
) {
  const base = `/water/systems/${systemId}/corrections/new`;
  const and = revises === '' ? '' : `&revises=${encodeURIComponent(revises)}`;
  return {
    base,
    quantity: {
      code: quantity.code,
      name: quantity.name,
      lower: nameInSentence(quantity.name),
      unit: unitName(quantity.code, quantity.displayUnit),
    },
    quantities: quantities.map((one) => ({
      name: one.name,
      href: `${base}?quantity=${one.code}`,
      here: one.code === quantity.code,
    })),
    means: {
      code: means,
      name: meansName(means),
      dry: means !== 'solution' && means !== 'exchange' && means !== 'saturated-limewater',
      solution: means === 'solution',
      limewater: means === 'saturated-limewater',
      exchange: means === 'exchange',
    },
    meansChoices: meansFor[quantity.code].map((one) => ({
      name: meansName(one),
      href: `${base}?quantity=${quantity.code}&means=${one}${and}`,
      here: one === means,
    })),
  };
}

function startView(start: StartingPoint, now: Date) {
  const { standing, quantity, drift } = start;
  const reading = standing.kind === 'none' ? null : standing.reading;
  return {
    words:
      reading === null
        ? null
        : `${sayReading(quantity, reading)} ± ${sayDifference(quantity, reading.uncertainty, reading.value)}`,
    at: reading?.at ?? now,
    href: reading === null ? '' : `/water/readings/${reading.id}`,
    trust:
      standing.kind === 'confirmed'
        ? standing.by === null
          ? 'confirmed'
          : `confirmed by ${say(quantity, standing.by.value)}, which agrees`
        : 'not confirmed',
    blocked: whyNotYet(start),
    drift: driftSentence(quantity, drift),
  };
}

/**
 * What is done first where the newest reading, repeated or not, is acute; empty where it is not, and where an alert says that
 * no more of what is low is dosed now.
 */
function acutePoints({ standing, quantity, band }: StartingPoint, isHeld: boolean): string[] {
  const value = standing.kind === 'none' ? null : standing.reading.value;
  const state = value === null ? null : acuteAt(quantity.code, value, band);
  return state === null || (isHeld && state.side === 'below') ? [] : acuteCautions(state);
}

/** The schedule for what was typed, or what is wrong with it. */
function look(start: StartingPoint, typed: Typed, today: string) {
  const parsed = correctionRequestSchema(start.quantity, today).safeParse(typed);
  if (!parsed.success) return { errors: fieldErrors(parsed.error), preview: null, wait: null };
  const draft = draftCorrection(start, parsed.data);
  const wait = waitOf(start, parsed.data.target);
  if (!draft.ok) return { errors: [{ field: draft.field, message: draft.refused }], preview: null, wait };
  return { errors: [], preview: previewOf(start, draft, parsed.data), wait };
}

function previewOf(
  { quantity }: StartingPoint,
  draft: Extract<ReturnType<typeof draftCorrection>, { ok: true }>,
  form: CorrectionForm,
) {
  const { unit } = draft.means;
  return {
    seen: amountsSeen(draft),
    steps: draft.schedule.steps.map((step, i) => ({
      position: i + 1,
      day: daysAfter(new Date(form.startsOn), step.day).toISOString().slice(0, 10),
      amount: stepAmountWords(step.amount, unit),
      change: withSign(step.change, sayDifference(quantity, Math.abs(step.change), form.target)),
      expected: expectedWords({ quantity }, step.after.value, step.after.u),
      retest: step.retest,
      after: afterWords(step.afterHours),
    })),
    total: stepAmountWords(Number(draft.schedule.total.toFixed(2)), unit),
    name: draft.means.name,
    cautions: draft.cautions,
    effects: draft.effects,
  };
}

const planned = z.object({
  quantity: optionalText(40),
  seen: optionalText(2000),
  revises: optionalChosen(),
  revisesVersion: optionalText(10),
});

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const systemId = pathId(request, 'id', 'This system');
  const { quantity: code } = planned.pick({ quantity: true }).parse(request.body ?? {});
  const quantity = await correctableQuantity(service.db, code);
  const today = localDay(service.now(), request.site.timeZone);
  return submit(request, reply, {
    schema: z.intersection(planned, correctionRequestSchema(quantity, today)),
    act: (work, { seen, revises, revisesVersion, quantity: _, ...form }) => {
      if (seen === '') throw new Refusal('Look at the schedule before it is planned.');
      return planCorrection(work, {
        ...form,
        systemId,
        quantityCode: code,
        seen,
        revises: revises === null ? null : { id: revises, version: Number(revisesVersion) },
      });
    },
    done: ({ id }) => ({
      to: `/water/corrections/${id}`,
      notice: 'Planned. Its steps are due on their days.',
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}
