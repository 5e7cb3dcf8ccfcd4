import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { freshForm } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { inputNumber, plural } from '../../platform/words/numbers.ts';
import { convert } from '../../science/units.ts';
import { nutrientFigures } from '../demand/nutrient-words.rules.ts';
import { learntWords } from '../demand/words.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import {
  boundMark,
  farmValue,
  type Quantity,
  say,
  sayDifference,
  sayReading,
  unitName,
} from '../quantities/quantities.ts';
import { findWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { resolutionCaution } from '../trust/trust.rules.ts';
import { planChart } from './chart.ts';
import { type NutrientCode, nutrientCodes } from './codes.ts';
import { levelJumpsOf } from './mixing.rules.ts';
import {
  nutrientsSchema,
  type PlanField,
  type PlanName,
  planFieldNames,
  planFormValues,
  planInputName,
  planNames,
  planOf,
} from './nutrients.schema.ts';
import { type NutrientView, readNutrient } from './nutrients.ts';
import {
  aimFigures,
  changesDoNotHold,
  type NutrientAim,
  nutrientAim,
  routineChangeWords,
  routineHref,
} from './plan.rules.ts';
import {
  changesOf,
  type NutrientPlan,
  outcomeOf,
  removalToReach,
  unchangedPlan,
} from './projection.rules.ts';
import { planDays, removalDays, type SuggestedPlans, suggestedPlans } from './scenarios.rules.ts';
import {
  adviceOf,
  bandWords,
  outcomeSentence,
  type PlanWater,
  phosphateShortageWords,
  planCautions,
  planSentence,
  stateSentence,
} from './words.rules.ts';

/** Two plans for a nutrient that is too high or too low, side by side. The address holds them; nothing is stored. */
export function nutrientPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/nutrients', (request, reply) => showNutrients(service, request, reply));
}

type PlanQuery = Record<string, string>;

async function showNutrients(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const { timeZone } = request.site;
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const query = request.query as PlanQuery;
  const code: NutrientCode = nutrientCodes.find((one) => one === query.quantity) ?? 'nitrate';
  const view = await readNutrient(service, system, code, now);
  const water: PlanWater = { quantity: view.quantity, volumeL: system.volumeL, timeZone, now };
  // A plan starts from a level: none is known after a long silence, and of a test beyond its scale only the least is.
  const newest = view.latest.get(code);
  const beyond = newest?.above === true ? newest : null;
  const unseen = unseenWords(view);
  const known = view.silentDays === null && beyond === null && unseen === '';
  const aim = nutrientAim(code, view.estimate, view.targets.get(code), view.mixing, view.living);
  const plans = aim === null || !known ? null : plansOf(view, aim, query);
  if (plans !== null && plans.errors.length > 0) reply.status(422);
  const form = { ...freshForm(plans?.typed ?? {}), errors: plans?.errors ?? [] };
  const data = {
    system,
    quantity: { name: view.quantity.name, code, unit: unitName(code, view.quantity.displayUnit) },
    tabs: nutrientCodes.map((one) => ({
      name: view.quantities.find((quantity) => quantity.code === one)?.name ?? one,
      href: `/water/systems/${system.id}/nutrients?quantity=${one}`,
      here: one === code,
    })),
    learnt: learntWords(view.demand, request.site.timeZone, service.now()),
    silence: silenceWords(view),
    plan: plans === null || aim === null ? null : planData(view, aim, plans, system, water),
    beyond: beyond === null ? null : sayReading(view.quantity, beyond),
    unseen,
    unrepeated: newest?.trust === 'unconfirmed' ? sayReading(view.quantity, newest) : null,
    phosphateShortage: phosphateShortageOf(view),
    demand: `/water/systems/${system.id}/demand?quantity=${code}`,
  };
  const options = { title: `Nutrients: ${system.name}`, area: 'water' as const, form };
  return showPage(service, request, reply, 'water/nutrients', data, options);
}

/** The last reading of the nutrient in words, null without any. */
function lastRead({ quantity, latest }: NutrientView): string | null {
  const newest = latest.get(quantity.code);
  return newest === undefined ? null : `${boundMark(newest)}${say(quantity, newest.value)}`;
}

/** Said in place of plans that would start from a level nobody knows; '' where it is known. */
const silenceWords = ({ quantity, silentDays }: NutrientView): string =>
  silentDays === null
    ? ''
    : `${quantity.name} was tested ${plural(silentDays, 'day', 'days')} ago for the last time: where it is now is not known.`;

/** Said in place of plans where the test sees nothing at the level that is kept; '' where it can tell. */
function unseenWords({ quantity, latest, targets }: NutrientView): string {
  const newest = latest.get(quantity.code);
  const { bandLow = null, bandHigh = null } = targets.get(quantity.code) ?? {};
  if (newest?.below !== true) return '';
  return resolutionCaution(quantity, newest, { low: bandLow, high: bandHigh }) ?? '';
}

interface Plans extends SuggestedPlans {
  target: number;
  targetSource: string;
  down: boolean;
  typed: Record<string, string>;
  errors: { field: string; message: string }[];
}

/**
 * The plans of the address, else the suggested ones: plan A is the one that alerts say as well. A refused address is shown
 * as typed, with the suggested plans drawn.
 */
function plansOf(view: NutrientView, aim: NutrientAim, query: PlanQuery): Plans {
  const { quantity } = view;
  const typedTarget = Number((query.target ?? '').replace(',', '.'));
  const isTyped = (query.target ?? '') !== '' && typedTarget >= 0 && typedTarget <= 1000;
  const target = isTyped
    ? convert(quantity.code, typedTarget, quantity.displayUnit, quantity.canonicalUnit)
    : aim.target.value;
  const down = isTyped ? aim.state.level > target : aim.down;
  const suggested = suggestedPlans(aim.state, { target, down }, aim.habit, aim.largest);
  const form = { ...planFormValues(quantity, suggested), ...query };
  const parsed = nutrientsSchema.safeParse(form);
  const plans =
    parsed.success && isChosen(query)
      ? { a: planOf(quantity, parsed.data.a), b: planOf(quantity, parsed.data.b) }
      : suggested;
  return {
    ...plans,
    target,
    targetSource: isTyped ? 'as typed' : aim.target.source,
    down,
    typed: {
      ...form,
      target: query.target ?? inputNumber(farmValue(quantity, target).value, quantity.decimals),
    },
    errors: parsed.success ? [] : fieldErrors(parsed.error),
  };
}

/** Whether the address holds figures of a plan of its own. */
const isChosen = (query: PlanQuery) =>
  planNames.some((plan) => planFieldNames.some((field) => planInputName(plan, field) in query));

/** The part of the page that needs a known level. */
function planData(view: NutrientView, aim: NutrientAim, plans: Plans, system: WaterSystem, water: PlanWater) {
  const { target, down } = plans;
  const { state } = aim;
  const now = nutrientFigures(view.quantity, system.id, view.estimate);
  const aimed = aimFigures(view.quantity, system, aim);
  const outcomes = planNames.map((name) => ({
    name: name.toUpperCase(),
    key: name,
    plan: plans[name],
    outcome: outcomeOf(state, plans[name], { target, down, days: planDays }),
  }));
  const unchanged = unchangedPlan(aim.habit);
  const removal = down ? removalToReach(state, unchanged, target, removalDays) : 0;
  const band = view.targets.get(view.quantity.code);
  const { settlesAt, rate } = view.estimate;
  const isKnown = rate.rate !== null;
  return {
    band: bandWords(
      view.quantity,
      { level: state.level, settlesAt: isKnown ? settlesAt : 'not known' },
      { low: band?.bandLow ?? null, high: band?.bandHigh ?? null },
      view.alerts.length > 0,
    ),
    alerts: view.alerts,
    figures: [now.level, now.production, now.exchange, now.settles, aimed.target, aimed.plan].filter(
      (figure) => figure !== null,
    ),
    state: stateSentence(now, view.estimate.rate, lastRead(view)),
    down,
    target: `${say(view.quantity, target)}, ${plans.targetSource}`,
    steps: adviceOf(water, down, removal),
    chart: planChart(view, outcomes, { systemName: system.name, water, target }),
    sides: outcomes.map(({ name, key, plan, outcome }) => ({
      name,
      says: planSentence(water, plan),
      becomes: outcomeSentence(water, outcome, target, isKnown),
      fields: planInputs(key, view.quantity),
      routine: routineOf(system, view.routine, plan),
    })),
    cautions: [
      ...holdingCautions(aim),
      ...planCautions(outcomes, state, down),
      ...jumpCautions(view, outcomes),
    ],
  };
}

const labels: Record<PlanField, string> = {
  size: 'First changes of',
  every: 'One every',
  count: 'How many',
  thenSize: 'Then changes of',
  thenEvery: 'One every',
  removed: 'Skimming and detritus take out more',
  feeding: 'Feeding, more or (−) less',
  dosed: 'Dosed',
};

function planInputs(name: PlanName, { code, displayUnit }: Quantity) {
  const aDay = `${unitName(code, displayUnit)} a day`;
  const units: Record<PlanField, string> = {
    size: '%',
    every: 'days',
    count: 'times',
    thenSize: '%',
    thenEvery: 'days',
    removed: aDay,
    feeding: '%',
    dosed: aDay,
  };
  return planFieldNames.map((field) => ({
    name: planInputName(name, field),
    label: labels[field],
    unit: units[field],
  }));
}

/** The way to put a plan's later changes into the routines, and what is planned there now. */
function routineOf(system: WaterSystem, routine: NutrientView['routine'], { later }: NutrientPlan) {
  const href = routineHref(system.id, later);
  if (href === '') return null;
  return { href, ...routineChangeWords(system, routine, later) };
}

/** Said where no changes of a bearable size hold the level. */
const holdingCautions = ({ plan }: NutrientAim): string[] =>
  plan === null || plan.holds ? [] : [`${changesDoNotHold}.`];

function jumpCautions(
  view: NutrientView,
  outcomes: readonly { name: string; plan: NutrientPlan }[],
): string[] {
  return outcomes.flatMap(({ name, plan }) => {
    const largest = Math.max(0, ...changesOf(plan, planDays).map(({ fraction }) => fraction));
    return levelJumpsOf(view.mixing, largest).flatMap(({ code, jump, level, makeUp }) => {
      const quantity = view.quantities.find((one) => one.code === code);
      if (quantity === undefined) return [];
      const difference = sayDifference(quantity, Math.abs(jump.change), level);
      return [
        `Plan ${name}: one change of ${Math.round(100 * largest)} % with water of ${say(quantity, makeUp)} moves ${nameInSentence(quantity.name)} by ${difference} at once. Mix the new water nearer to the system’s ${say(quantity, level)}, or change at most ${Math.floor(100 * jump.largest)} % at a time.`,
      ];
    });
  });
}

function phosphateShortageOf({ latest, targets }: NutrientView): string {
  return phosphateShortageWords(
    latest.get('nitrate'),
    latest.get('phosphate'),
    targets.get('phosphate')?.bandLow ?? null,
  );
}
