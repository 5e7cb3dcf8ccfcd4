import {
  type Act,
  type Advice,
  again,
  air,
  asking,
  correct,
  done,
  down,
  hold,
  measure,
  noted,
  notUp,
  optimise,
  people,
  source,
  up,
} from '../../../alerts/advice.ts';
import { fixed, withoutUnit } from '../../../platform/units/everyday.ts';
import {
  type AcuteState,
  acuteAt,
  acuteState,
  type ChosenBand,
  needed,
} from '../../../water/acute/acute-states.rules.ts';
import type { Side } from '../levels/edges.ts';
import { isDosedFor, type Unsaid, unsaidSteps } from './unsaid-doses.ts';

/** Why a level outside its band matters, and what is done. */
interface BandAdvice {
  why: string;
  steps: readonly Advice[];
}

const confirm = measure('Confirm with a second test, with another kit if there is one.');
/** In its place where a repeat has said the same: what is left open is whether the kit is right. */
const otherKit = asking('standard', measure('Test with another kit too, if there is one.'));
const mains = people('Isolate the mains before hands go in.');

/** What stopping it, setting it right and leaving alone come to as acts. */
type AcuteActs = Readonly<Record<'source' | 'rate' | 'not', readonly Act[]>> & {
  /** Where its next tests are of steps of the correction, and wait with it. */
  again?: readonly Act[];
};

const noCorrections = [hold('level', 'alkalinity'), hold('level', 'calcium'), hold('level', 'magnesium')];
const quiet = [notUp('food'), hold('place')];

const acuteActs: Readonly<Record<string, AcuteActs>> = {
  'temperature below': { source: [up('heating')], rate: [up('level', 'temperature', 'acute')], not: quiet },
  'temperature above': {
    source: [down('heating')],
    rate: [down('level', 'temperature', 'acute'), down('light')],
    not: quiet,
  },
  'salinity below': {
    source: [down('top-up')],
    rate: [up('level', 'salinity', 'acute')],
    not: noCorrections,
  },
  'salinity above': { source: [], rate: [down('level', 'salinity', 'acute')], not: noCorrections },
  'alkalinity below': {
    source: [up('dose', 'alkalinity')],
    rate: [up('level', 'alkalinity', 'acute')],
    not: [notUp('level', 'magnesium')],
    again: [up('level', 'alkalinity', 'acute')],
  },
  'alkalinity above': {
    source: [down('dose', 'alkalinity')],
    rate: [down('level', 'alkalinity', 'acute'), done('water')],
    not: [notUp('level', 'calcium')],
  },
  'ph above': {
    source: [down('dose', 'alkalinity')],
    rate: [down('level', 'ph', 'acute'), done('water')],
    not: [notUp('level', 'calcium')],
  },
  'ph below': { source: [], rate: [up('level', 'ph', 'acute')], not: [notUp('dose', 'alkalinity')] },
  'oxygen below': { source: [down('food')], rate: [], not: [notUp('light')] },
  'ammonia above': {
    source: [down('food')],
    rate: [done('water')],
    not: [notUp('food'), notUp('level', 'ph'), notUp('dose', 'alkalinity')],
  },
  'copper above': { source: [down('top-up')], rate: [done('water')], not: [notUp('food')] },
};

/** Advice on an acute state: its order, its own safe rate, where the slow one takes over, and the next test. */
function acuteSteps(state: AcuteState): Advice[] {
  const acts: AcuteActs = acuteActs[`${state.quantity} ${state.side}`] ?? { rate: [], source: [], not: [] };
  return [
    ...(state.people === '' ? [] : [people(state.people)]),
    ...(state.air === '' ? [] : [air(state.air, done('air'))]),
    source(state.source, ...acts.source),
    source(state.not, ...acts.not),
    noted(
      measure('Test again now with a second instrument or kit.'),
      'The steps before this cost nothing if the first test was wrong.',
    ),
    correct(`${state.rate.words} ${state.slow}`, ...acts.rate),
    again(state.again, ...(acts.again ?? [])),
  ];
}

/** What it does and what to do first, by quantity and side; figures with their sources in the care library and the rules. */
const known: Readonly<Record<string, Readonly<Record<Side, BandAdvice>>>> = {
  alkalinity: {
    below: {
      why: `Stony corals build with it; below ${withoutUnit(fixed.dKH(5))} to ${fixed.dKH(6)} stock was reported severely affected. A quick repair harms more than a steady low level.`,
      steps: [
        confirm,
        asking('doser', measure('Look at the doser.')),
        asking('salinity', measure('Look at the salinity.')),
        correct(
          `Then plan a correction of at most ${fixed.byDKH(1)} a day.`,
          up('level', 'alkalinity', 'slow'),
        ),
        optimise(
          'Raise the daily dose to what is used, if nothing is wrong with what supplies it.',
          up('dose', 'alkalinity'),
        ),
      ],
    },
    above: {
      why: 'High alkalinity burns tips and, with a high pH, drops out as carbonate on pumps and heaters.',
      steps: [
        confirm,
        source(
          'Stop or lower the dosing and let the stock use it up. Add nothing acid.',
          down('dose', 'alkalinity'),
        ),
        optimise('Set the daily dose to what is used before dosing goes on.', down('dose', 'alkalinity')),
      ],
    },
  },
  calcium: {
    below: {
      why: 'Stony corals lay it down with alkalinity; a low level limits both only far below the sea’s 420 mg/L.',
      steps: [
        confirm,
        measure('Test salinity and magnesium too.'),
        correct(
          'Then plan a correction of at most 20 to 30 mg/L a day (common practice).',
          up('level', 'calcium', 'slow'),
        ),
      ],
    },
    above: {
      why: 'High calcium with high alkalinity drops out as carbonate.',
      steps: [
        confirm,
        correct('Dose less calcium and let the stock use it up, or change water.', down('dose', 'calcium')),
      ],
    },
  },
  magnesium: {
    below: {
      why: 'Without enough magnesium calcium and alkalinity drop out and do not hold.',
      steps: [
        confirm,
        measure('Test salinity.'),
        correct(
          'Then plan a correction of at most 50 to 100 mg/L a day (common practice).',
          up('level', 'magnesium', 'slow'),
        ),
      ],
    },
    above: {
      why: 'It does little by itself, but salinity or a dose may be off.',
      steps: [confirm, measure('Test salinity. Dose no more.', down('dose', 'magnesium'))],
    },
  },
  salinity: {
    below: {
      why: 'Everything dissolved thins with it; lasting low salinity kills corals, sooner in warm water.',
      steps: [
        source(
          'Look for what adds fresh water and stop it: a stuck float of the top-up, a leak, rain.',
          down('top-up'),
        ),
        measure('Test again with a second instrument.'),
        correct('Raise it by 1 to 2 a day at most (common practice).', up('level', 'salinity', 'slow')),
      ],
    },
    above: {
      why: 'Everything dissolved rises with it; evaporation that is not topped up does this slowly, a wrong mix at once.',
      steps: [
        measure('Test again with a second instrument. Look at the top-up.'),
        correct(
          'Lower it by 1 to 2 a day at most with fresh water (common practice).',
          down('level', 'salinity', 'slow'),
        ),
      ],
    },
  },
  temperature: {
    below: {
      why: 'Growth slows, and a heater that failed goes on failing.',
      steps: [
        mains,
        source('Cover the tank.'),
        measure('Read a second thermometer, then look at heater and controller.'),
        correct(
          `Warm it by at most ${fixed.byDegC(0.5)} an hour to ${fixed.degC(23)}, then by ${fixed.byDegC(1)} in 4 to 6 hours (common practice).`,
          up('level', 'temperature', 'slow'),
        ),
      ],
    },
    above: {
      why: `From ${fixed.byDegC(1)} above their usual summer corals are under stress, and it adds up over weeks.`,
      steps: [
        mains,
        source('Unplug a heater that is on. Take lids off and set a fan over the water.', down('heating')),
        measure('Read a second thermometer, then look at chiller, fans and heater.'),
        correct(
          `Cool it by at most ${fixed.byDegC(0.5)} an hour, then ${fixed.byDegC(1)} a day (common practice). Shade it: less light harms less while it is warm.`,
          down('level', 'temperature', 'slow'),
          down('light'),
        ),
      ],
    },
  },
  ph: {
    below: {
      why: 'A low pH slows calcification; it mostly speaks of carbon dioxide in the room.',
      steps: [
        measure('Read it again with a probe set on fresh buffers, at the same hour.'),
        correct(
          'Then air the room and the water before dosing anything.',
          up('level', 'ph', 'slow'),
          done('air'),
        ),
      ],
    },
    above: {
      why: 'A high pH lets carbonate drop out, and makes what ammonia there is poisonous.',
      steps: [
        source('Hold limewater and carbonate dosing until it is known why.', down('dose', 'alkalinity')),
        measure('Read it again with a probe set on fresh buffers.'),
      ],
    },
  },
  oxygen: {
    below: {
      why: 'Animals need it most at night; losses were seen at 2 to 4 mg/L (PeerJ 2014, 2023).',
      // Short of acute what is done costs nothing, so it is the same.
      steps: acuteSteps(needed('oxygen', 'below')),
    },
    above: {
      why: 'More than the air gives comes of strong light on much algae or stock, or of a wrong reading.',
      steps: [measure('Read it again at the same hour, with a probe set in air.')],
    },
  },
  copper: {
    below: {
      why: 'Less of it harms nothing.',
      steps: [confirm],
    },
    above: {
      why: '30 µg/L for two weeks lowered the photosynthesis of a massive coral, 10 did not (Alutoin et al. 2001).',
      steps: [
        confirm,
        source('Look for metal in the water and in what is topped up.', down('top-up')),
        correct('Change water from another source, and put in fresh carbon.', done('water')),
      ],
    },
  },
  phosphate: {
    below: {
      why: 'Corals short of phosphorus lose tissue and bleach sooner.',
      steps: [
        confirm,
        correct('Take phosphate remover out and feed a little more.', down('remover'), up('food')),
      ],
    },
    above: {
      why: 'It feeds algae and can slow the laying down of skeleton; healthy stock was reported at high levels, so a slow return is enough.',
      steps: [
        confirm,
        correct(
          'Change water, take detritus out. Bring remover in slowly, since a sudden fall harms more.',
          done('water'),
          up('export'),
          up('remover'),
        ),
      ],
    },
  },
};

const other: Record<Side, BandAdvice> = {
  below: {
    why: 'It is below its alert limit.',
    steps: [confirm, measure('Dose nothing on one reading.')],
  },
  above: {
    why: 'It is above its alert limit.',
    steps: [confirm, correct('Look for what brings it in, and change water.', done('water'))],
  },
};

/** Where the log has no dose of what is too high, nothing stands to be stopped that anybody knows of: what brought it in is looked for. */
function undosed(code: string, side: Side, unsaid: Unsaid): BandAdvice {
  const { why, steps } = (known[code] ?? other)[side];
  if (side === 'above' && unsaid.doses > 0 && isDosedFor(code))
    return { why, steps: [confirm, ...unsaidSteps(unsaid)] };
  if (code !== 'alkalinity' || side !== 'above') return { why, steps };
  return {
    why,
    steps: [
      confirm,
      source(
        'No dose of it is logged: look for what brought it in. Stop any dose of which nobody knows the effect, or that nobody wrote down.',
        down('dose', 'alkalinity'),
      ),
      measure('Test the salt mix and the top-up water for it.'),
      correct('Let the stock use it up. Add nothing acid.'),
    ],
  };
}

/** Advice on a level that runs towards an acute state: all that costs nothing as in that state, and the slow rate while it is not there. */
function runningSteps(state: AcuteState, slow: BandAdvice): Advice[] {
  const corrections = slow.steps.filter(({ phase }) => phase === 'correct');
  return [...acuteSteps(state).filter(({ phase }) => phase !== 'correct'), ...corrections];
}

/**
 * Why a quantity outside its band matters, and what is done: the fast way beyond the safe range, what costs nothing of
 * it where the level runs there within hours, else the slow one.
 */
export function adviceOn(
  code: string,
  side: Side,
  {
    value,
    runs,
    confirmed,
    dosed,
    unsaid,
    band,
  }: { value: number; runs: boolean; confirmed: boolean; dosed: boolean; unsaid: Unsaid; band: ChosenBand },
): BandAdvice {
  const { why, steps } = dosed ? (known[code] ?? other)[side] : undosed(code, side, unsaid);
  const slow = { why, steps: confirmed ? steps.map((step) => (step === confirm ? otherKit : step)) : steps };
  const acute = acuteAt(code, value, band);
  if (acute !== null && acute.side === side) return { why: slow.why, steps: acuteSteps(acute) };
  const ahead = runs ? acuteState(code, side) : null;
  return ahead === null ? slow : { why: slow.why, steps: runningSteps(ahead, slow) };
}
