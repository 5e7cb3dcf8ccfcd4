import { type Act, done, down, hold, up } from '../../alerts/advice.ts';
import type { Finding } from '../../alerts/finding.ts';
import { dayOf } from '../../science/numeric/time.ts';
import type { SystemFacts } from '../facts/types.ts';
import type { Action, ActionKind } from './actions.ts';

/** What running equipment or an open valve does to the water, by what is switched. */
const running: Readonly<Record<string, readonly Act[]>> = {
  heating: [up('heating'), up('level', 'temperature')],
  heater: [up('heating'), up('level', 'temperature')],
  cooling: [down('level', 'temperature')],
  chiller: [down('level', 'temperature')],
  light: [up('light')],
  lamp: [up('light')],
  doser: [up('dose')],
  by_hand: [up('dose')],
  top_up: [up('top-up'), down('level', 'salinity')],
  valve_open: [],
  air: [done('air')],
  air_pump: [done('air')],
  skimmer: [done('air')],
  all_flow: [done('pumps'), done('air')],
  return_pump: [done('pumps'), done('air')],
  wave_pump: [done('pumps'), done('air')],
};

const turned = (act: Act): Act => {
  const { lever, quantity } = act;
  if (act.direction === 'up') return down(lever, quantity);
  return act.direction === 'down' ? up(lever, quantity) : hold(lever, quantity);
};

/** A routine that was set, by its work; what ends does the contrary. A test sets nothing right. */
const routines: Readonly<Record<string, (quantity: string) => Act>> = {
  dose: (quantity) => up('dose', quantity),
  'water change': () => done('water'),
  feeding: () => up('food'),
};

/**
 * What an act does, in the terms of advice; none where that is not known, null where it can set nothing right. A water
 * change raises or lowers what its new water is known to hold more or less of than the last test here.
 */
export function effectsOf(action: Action, facts: SystemFacts): readonly Act[] | null {
  const { kind, name, amount, before, quantityCode, contents } = action;
  const quantity = quantityCode ?? '';
  switch (kind) {
    case 'lamps':
      return byStep('light', '', amount, before);
    case 'dose':
      return quantityCode === null ? [] : byStep('dose', quantity, amount, 0);
    case 'water change':
      return Object.entries(contents ?? {}).flatMap(([code, fresh]) =>
        byStep('level', code, fresh, facts.readings.get(code)?.at(-1)?.value ?? null),
      );
    case 'running':
      return running[quantity] ?? [];
    case 'switched off':
      return (running[quantity] ?? []).map(turned);
    case 'routine': {
      const [verb, work = ''] = name.split(' the routine: ');
      if (work === 'test') return null;
      const set = routines[work]?.(quantity);
      return set === undefined ? [] : [verb === 'ended' ? turned(set) : set];
    }
    default:
      return [];
  }
}

function byStep(lever: Act['lever'], quantity: string, to: number | null, from: number | null): Act[] {
  if (to === null || from === null || to === from) return [];
  return [(to > from ? up : down)(lever, quantity)];
}

/** Rules that judge by what lamps are set to, where lots stand and what flow is noted: the act itself changes what they find. */
const judgedBy: Readonly<Record<string, readonly ActionKind[]>> = {
  'too-much-light': ['lamps', 'move'],
  'too-little-light': ['lamps', 'move'],
  'flow-unsuited': ['move', 'flow'],
  'jet-on-flesh': ['move', 'flow'],
  'loose-in-flow': ['move', 'flow'],
  'neighbours-in-reach': ['move'],
};

/** Whether what its rule finds takes the act in already. Lamps only where the light beneath is known at their new setting. */
export function isTakenIn({ kind, at }: Action, finding: Finding, facts: SystemFacts): boolean {
  if (!(judgedBy[finding.rule] ?? []).includes(kind)) return false;
  if (kind !== 'lamps') return true;
  const { subject } = finding;
  const lots = facts.lots.filter(
    (lot) => lot.id === subject.id || lot.lampId === subject.id || finding.lots.includes(lot.id),
  );
  return lots.length > 0 && lots.every(({ light }) => (light.at(-1)?.fromDay ?? 0) >= dayOf(at));
}
