import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { fieldErrors, freshForm } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { inputNumber } from '../../platform/words/numbers.ts';
import { convert } from '../../science/units.ts';
import { farmValue, type Quantity, say, sayDifference, unitName } from '../quantities/quantities.ts';
import { findWater, type WaterSystem } from '../systems/systems.ts';
import { planChart } from './chart.ts';
import {
  nutrientsSchema,
  type PlanField,
  type PlanName,
  planField,
  planFields,
  planNames,
  planOf,
  typedOf,
} from './nutrients.schema.ts';
import {
  largestMix,
  mixStepsOf,
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
} from './projection.rules.ts';
import { planDays, type Suggestion, suggestedPlans } from './scenarios.rules.ts';
import {
  bandWords,
  outcomeSentence,
  type PlanWater,
  pairWords,
  planCautions,
  planSentence,
  stateSentence,
  stepsOf,
} from './words.rules.ts';

/** Two plans for a nutrient that is too high or too low, side by side. They are asked for by the address, nothing is kept. */
export function nutrientPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/nutrients', (request, reply) => showNutrients(service, request, reply));
}

type Asked = Record<string, string>;

async function showNutrients(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const { timeZone } = request.site;
  const system = await findWater(service.db, pathId(request, 'id', 'This system'));
  const asked = request.query as Asked;
  const code: NutrientCode = nutrientCodes.find((one) => one === asked.quantity) ?? 'nitrate';
  const view = await readNutrient(service, system, code, now);
  const water: PlanWater = { quantity: view.quantity, volumeL: system.volumeL, timeZone, now };
  const plans = view.state === null ? null : plansOf(view, view.state, asked);
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
    plan: plans === null || view.state === null ? null : drawn(view, view.state, plans, system, water),
    pair: pairOf(view),
    demand: `/water/systems/${system.id}/demand?quantity=${code}`,
  };
  const options = { title: `Nutrients: ${system.name}`, area: 'water' as const, form };
  return showPage(service, request, reply, 'water/nutrients', data, options);
}

interface Plans extends Suggestion {
  target: number;
  targetSource: string;
  down: boolean;
  typed: Record<string, string>;
  errors: { field: string; message: string }[];
}

/** As the address says, or as suggested; a refused address is drawn as typed over the suggestion. */
function plansOf(view: NutrientView, state: NutrientState, asked: Asked): Plans {
  const { quantity } = view;
  const usual = usualTarget(view);
  const wanted = Number((asked.target ?? '').replace(',', '.'));
  const typed = (asked.target ?? '') !== '' && wanted >= 0 && wanted <= 1000;
  const target = typed
    ? convert(quantity.code, wanted, quantity.displayUnit, quantity.canonicalUnit)
    : usual.target;
  const down = state.level > target;
  const suggested = suggestedPlans(state, { target, down }, view.habit, largestMix(view));
  const form = { ...typedOf(quantity, suggested), ...asked };
  const parsed = nutrientsSchema.safeParse(form);
  const plans = parsed.success
    ? { a: planOf(quantity, parsed.data.a), b: planOf(quantity, parsed.data.b) }
    : suggested;
  return {
    ...plans,
    target,
    targetSource: typed ? 'as typed' : usual.source,
    down,
    typed: {
      ...form,
      target: asked.target ?? inputNumber(farmValue(quantity, target).value, quantity.decimals),
    },
    errors: parsed.success ? [] : fieldErrors(parsed.error),
  };
}

/** The middle of the band, its nearer end, or what growers keep. */
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

/** Everything of the page that stands on a level that is known. */
function drawn(
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
  const kept = {
    first: { fraction: 0, everyDays: 3, count: 0 },
    habit: view.habit,
    removed: 0,
    feeding: 0,
    dosed: 0,
  };
  const removal = down ? removalToReach(state, kept, target, 42) : 0;
  const band = view.targets.get(view.quantity.code);
  const { tends } = outcomeOf(state, kept, { target, down, days: 1 });
  return {
    band: bandWords(
      view.quantity,
      { level: state.level, tends },
      band?.bandLow ?? null,
      band?.bandHigh ?? null,
      view.alerts.length > 0,
    ),
    alerts: view.alerts,
    state: stateSentence(water, state, view.now),
    down,
    target: `${say(view.quantity, target)}, ${plans.targetSource}`,
    steps: stepsOf(water, down, removal),
    chart: planChart(view, outcomes, { systemName: system.name, water, target }),
    sides: outcomes.map(({ name, key, plan, outcome }) => ({
      name,
      says: planSentence(water, plan),
      becomes: outcomeSentence(water, outcome, target),
      fields: fieldsOf(key, view.quantity),
      routine: routineHref(system, plan),
    })),
    cautions: [...planCautions(outcomes, state, down), ...mixCautions(view, outcomes)],
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

function fieldsOf(name: PlanName, { code, displayUnit }: Quantity) {
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
  return planFields.map((field) => ({
    name: planField(name, field),
    label: labels[field],
    unit: units[field],
  }));
}

/** The later habit as a routine's form starts with it; '' where nothing is changed. */
function routineHref(system: WaterSystem, { habit }: NutrientPlan): string {
  if (habit.fraction <= 0) return '';
  const volume = inputNumber(habit.fraction * 100, 1);
  const query = new URLSearchParams({
    work: 'water_change',
    volume,
    volumeUnit: '%',
    every: inputNumber(habit.everyDays, 1),
  });
  return `/water/systems/${system.id}/routines/new?${query}`;
}

function mixCautions(
  view: NutrientView,
  outcomes: readonly { name: string; plan: NutrientPlan }[],
): string[] {
  return outcomes.flatMap(({ name, plan }) => {
    const largest = Math.max(0, ...changesOf(plan, planDays).map(({ fraction }) => fraction));
    return mixStepsOf(view, largest).flatMap(({ code, step, level, makeUp }) => {
      const quantity = view.quantities.find((one) => one.code === code);
      if (quantity === undefined) return [];
      const moved = sayDifference(quantity, Math.abs(step.change), level);
      return [
        `Plan ${name}: one change of ${Math.round(100 * largest)} % with water of ${say(quantity, makeUp)} moves ${quantity.name.toLowerCase()} by ${moved} at once. Mix the new water nearer to the system’s ${say(quantity, level)}, or change at most ${Math.floor(100 * step.largest)} % at a time.`,
      ];
    });
  });
}

function pairOf({ latest, targets }: NutrientView): string {
  return pairWords(latest.get('nitrate'), latest.get('phosphate'), targets.get('phosphate')?.bandLow ?? null);
}
