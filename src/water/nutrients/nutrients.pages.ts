import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { fieldErrors, freshForm } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { inputNumber } from '../../platform/words/numbers.ts';
import { convert } from '../../science/units.ts';
import { learntWords } from '../demand/words.rules.ts';
import { farmValue, type Quantity, say, sayDifference, unitName } from '../quantities/quantities.ts';
import { findWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { planChart } from './chart.ts';
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
import {
  largestSafeChange,
  levelJumpsOf,
  type NutrientCode,
  type NutrientView,
  nutrientCodes,
  readNutrient,
} from './nutrients.ts';
import {
  changesOf,
  type NutrientPlan,
  type NutrientState,
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
  const plans = view.state === null ? null : plansOf(view, view.state, query);
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
    plan: plans === null || view.state === null ? null : planData(view, view.state, plans, system, water),
    phosphateShortage: phosphateShortageOf(view),
    demand: `/water/systems/${system.id}/demand?quantity=${code}`,
  };
  const options = { title: `Nutrients: ${system.name}`, area: 'water' as const, form };
  return showPage(service, request, reply, 'water/nutrients', data, options);
}

interface Plans extends SuggestedPlans {
  target: number;
  targetSource: string;
  down: boolean;
  typed: Record<string, string>;
  errors: { field: string; message: string }[];
}

/** The plans of the address, else the suggested ones. A refused address is shown as typed, with the suggested plans drawn. */
function plansOf(view: NutrientView, state: NutrientState, query: PlanQuery): Plans {
  const { quantity } = view;
  const usual = usualTarget(view);
  const typedTarget = Number((query.target ?? '').replace(',', '.'));
  const isTyped = (query.target ?? '') !== '' && typedTarget >= 0 && typedTarget <= 1000;
  const target = isTyped
    ? convert(quantity.code, typedTarget, quantity.displayUnit, quantity.canonicalUnit)
    : usual.target;
  const down = state.level > target;
  const suggested = suggestedPlans(state, { target, down }, view.recentChanges, largestSafeChange(view));
  const form = { ...planFormValues(quantity, suggested), ...query };
  const parsed = nutrientsSchema.safeParse(form);
  const plans = parsed.success
    ? { a: planOf(quantity, parsed.data.a), b: planOf(quantity, parsed.data.b) }
    : suggested;
  return {
    ...plans,
    target,
    targetSource: isTyped ? 'as typed' : usual.source,
    down,
    typed: {
      ...form,
      target: query.target ?? inputNumber(farmValue(quantity, target).value, quantity.decimals),
    },
    errors: parsed.success ? [] : fieldErrors(parsed.error),
  };
}

/** The middle of the band kept, its only end, or what growers usually keep. */
function usualTarget({ quantity, targets }: NutrientView): { target: number; source: string } {
  const kept = targets.get(quantity.code);
  const [low, high] = [kept?.bandLow ?? null, kept?.bandHigh ?? null];
  if (low !== null && high !== null)
    return { target: (low + high) / 2, source: 'the middle of the band kept' };
  if (high !== null) return { target: high, source: 'the upper end of the band kept' };
  if (low !== null) return { target: low, source: 'the lower end of the band kept' };
  return quantity.code === 'nitrate'
    ? {
        target: 8,
        source: 'common practice for large-polyp stony corals, 5 to 10 mg/L; no band is kept here',
      }
    : { target: 0.05, source: 'common practice, 0.02 to 0.08 mg/L; no band is kept here' };
}

/** The part of the page that needs a known level. */
function planData(
  view: NutrientView,
  state: NutrientState,
  plans: Plans,
  system: WaterSystem,
  water: PlanWater,
) {
  const { target, down } = plans;
  const outcomes = planNames.map((name) => ({
    name: name.toUpperCase(),
    key: name,
    plan: plans[name],
    outcome: outcomeOf(state, plans[name], { target, down, days: planDays }),
  }));
  const unchanged = unchangedPlan(view.recentChanges);
  const removal = down ? removalToReach(state, unchanged, target, removalDays) : 0;
  const band = view.targets.get(view.quantity.code);
  const { settlesAt } = outcomeOf(state, unchanged, { target, down, days: 1 });
  return {
    band: bandWords(
      view.quantity,
      { level: state.level, settlesAt },
      { low: band?.bandLow ?? null, high: band?.bandHigh ?? null },
      view.alerts.length > 0,
    ),
    alerts: view.alerts,
    state: stateSentence(water, state, view.rate, view.demand),
    down,
    target: `${say(view.quantity, target)}, ${plans.targetSource}`,
    steps: adviceOf(water, down, removal),
    chart: planChart(view, outcomes, { systemName: system.name, water, target }),
    sides: outcomes.map(({ name, key, plan, outcome }) => ({
      name,
      says: planSentence(water, plan),
      becomes: outcomeSentence(water, outcome, target),
      fields: planInputs(key, view.quantity),
      routine: routineHref(system, plan),
    })),
    cautions: [...planCautions(outcomes, state, down), ...jumpCautions(view, outcomes)],
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

/** The form of a routine, filled with the later changes; '' where there are none. */
function routineHref(system: WaterSystem, { later }: NutrientPlan): string {
  if (later.fraction <= 0) return '';
  const volume = inputNumber(later.fraction * 100, 1);
  const query = new URLSearchParams({
    work: 'water_change',
    volume,
    volumeUnit: '%',
    every: inputNumber(later.everyDays, 1),
  });
  return `/water/systems/${system.id}/routines/new?${query}`;
}

function jumpCautions(
  view: NutrientView,
  outcomes: readonly { name: string; plan: NutrientPlan }[],
): string[] {
  return outcomes.flatMap(({ name, plan }) => {
    const largest = Math.max(0, ...changesOf(plan, planDays).map(({ fraction }) => fraction));
    return levelJumpsOf(view, largest).flatMap(({ code, jump, level, makeUp }) => {
      const quantity = view.quantities.find((one) => one.code === code);
      if (quantity === undefined) return [];
      const difference = sayDifference(quantity, Math.abs(jump.change), level);
      return [
        `Plan ${name}: one change of ${Math.round(100 * largest)} % with water of ${say(quantity, makeUp)} moves ${quantity.name.toLowerCase()} by ${difference} at once. Mix the new water nearer to the system’s ${say(quantity, level)}, or change at most ${Math.floor(100 * jump.largest)} % at a time.`,
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
