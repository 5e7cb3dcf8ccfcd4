import { fixed } from '../../platform/units/everyday.ts';
import { lowered } from '../../platform/words/capitals.ts';
import { convert } from '../../science/units/convert.ts';
import { needed, slowTemperature } from '../../water/acute/acute-states.rules.ts';
import { alkalinityFall, limewater, salinityStep, waterChange } from '../numbers/chemistry.rules.ts';
import { oxygenLeft } from '../numbers/oxygen.rules.ts';
import { towardsEdge } from '../numbers/pace.rules.ts';
import { beforeCold, cooling, coolingTime, warming } from '../numbers/temperature.rules.ts';
import { type EmergencyEvent, mainsCaution } from './event.ts';

const warm = needed('temperature', 'above');
const cold = needed('temperature', 'below');
const low = needed('alkalinity', 'below');
const highPh = needed('ph', 'above');
const highAlkalinity = needed('alkalinity', 'above');
const [thin, strong] = [needed('salinity', 'below'), needed('salinity', 'above')];

/** An alkalinity in the unit that people here read. */
const dkhOf = (meqL: number) => Number(convert('alkalinity', meqL, 'meq/L', 'dKH').toFixed(1));

/** A sentence that goes on after a colon. */
export const tooWarm: EmergencyEvent = {
  code: 'warm',
  group: 'water',
  power: true,
  title: 'The water is too warm',
  hint: `Above ${fixed.degC(30)}, or rising by ${fixed.byDegC(0.5)} an hour`,
  caution: mainsCaution,
  call: ['heating_engineer', 'key_holder'],
  silenceMin: 5,
  shared: 'temperature',
  steps: [
    {
      code: 'isolate',
      phase: 'people',
      title: 'Switch off before a hand goes in',
      points: ['A cracked heater makes the water live.'],
    },
    {
      code: 'heater',
      phase: 'source',
      title: 'Unplug the heater',
      points: ['Pull the plug, do not only turn it down. Look for a jammed pump: it heats too.'],
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Lids off, air up, fan over the water',
      points: ['Warm water holds less oxygen, and animals use more.'],
      numbers: oxygenLeft,
    },
    {
      code: 'lights',
      phase: 'air',
      title: 'Lights down by half, or off',
      points: ['Heat and light add up. Open the room, or cool it.'],
    },
    {
      code: 'second',
      phase: 'measure',
      title: 'Measure with a second thermometer',
      points: ['The first one may be what is wrong. The steps before cost nothing if it is.'],
      numbers: towardsEdge('temperature', 'above'),
    },
    {
      code: 'cool',
      phase: 'correct',
      title: 'Cool it step by step',
      points: [
        `Above ${fixed.degC(warm.rate.to)}: ${lowered(warm.rate.words)} No large cold change.`,
        `From ${fixed.degC(warm.rate.to)} down: ${slowTemperature.down}.`,
      ],
      numbers: cooling,
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Look again',
      points: [warm.again, 'The heater does not go back.'],
      againMin: warm.againMinutes,
    },
  ],
  not: ['Feed.', 'Move corals.', 'Trust the thermometer that let it happen.'],
};

export const tooCold: EmergencyEvent = {
  code: 'cold',
  group: 'water',
  power: true,
  title: 'The water is too cold',
  hint: `Below ${fixed.degC(20)} and falling, polyps shut, fish dull`,
  caution: mainsCaution,
  call: ['key_holder', 'heating_engineer', 'power_supplier', 'neighbour'],
  silenceMin: 5,
  sooner: [beforeCold],
  shared: 'temperature',
  steps: [
    {
      code: 'safe',
      phase: 'people',
      title: 'No flame and no generator in a closed room',
      points: ['Their gas kills before you notice it.'],
    },
    {
      code: 'source',
      phase: 'source',
      title: 'Why is there no heat?',
      points: ['Breaker, plug, controller, a window, a cooler that runs. Switch the cooler off.'],
      numbers: ({ circuits }) => circuits.map(({ name, devices }) => `${name}: ${devices.join(', ')}.`),
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Oxygen and movement before heat',
      points: ['Warming doubles what the animals use. Air pump on, by battery if need be.'],
      numbers: oxygenLeft,
    },
    {
      code: 'cover',
      phase: 'air',
      title: 'Cover the tanks, insulate the sides, close the room',
      points: ['A lid is the first insulation: a third to half of the heat goes with what evaporates.'],
      numbers: coolingTime,
    },
    {
      code: 'second',
      phase: 'measure',
      title: 'Measure with a second thermometer',
      points: ['And ammonia now.'],
    },
    {
      code: 'warm',
      phase: 'correct',
      title: 'Warm it step by step',
      points: [
        'Several small heaters, or warm water in closed bottles hung in the tank.',
        `Below ${fixed.degC(cold.rate.to)}: ${lowered(cold.rate.words)}`,
        `From ${fixed.degC(cold.rate.to)} up: ${slowTemperature.up}.`,
      ],
      numbers: warming,
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Look again',
      points: [cold.again, 'Half light on the first day.'],
      againMin: cold.againMinutes,
    },
  ],
  not: [`Warm by ${fixed.byDegC(1)} a day.`, 'Full light on the first day.', 'Feed.'],
};

export const overdose: EmergencyEvent = {
  code: 'overdose',
  group: 'water',
  title: 'Too much was dosed, pH is high, or the water is milky',
  hint: 'Limewater, alkalinity or calcium ran in; white film, snow, slime',
  caution:
    'Limewater and its powder are caustic: gloves and goggles. In the eye: rinse with running water for 15 minutes, then a doctor or the poison centre. Carbon dioxide only with the door open, a probe in the water and a person standing by.',
  call: ['poison_centre', 'key_holder', 'neighbour'],
  silenceMin: 5,
  shared: 'ph',
  steps: [
    {
      code: 'gloves',
      phase: 'people',
      title: 'Gloves and goggles on',
      points: ['Skin or eye: rinse 15 minutes, then the poison centre.'],
    },
    {
      code: 'stop',
      phase: 'source',
      title: 'Stop the source in two ways: plug and valve',
      points: ['Doser, limewater stirrer, top-up that feeds it. Lift the line out of the water.'],
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Keep water moving, air up, skimmer on outside air',
      points: [
        'Carbon dioxide from the air brings pH down, slowly.',
        'Turn the return so that the cloud does not stay on one rack.',
      ],
      numbers: oxygenLeft,
    },
    {
      code: 'apart',
      phase: 'separate',
      title: 'Move nothing through the cloud',
      points: ['Leave settled white powder where it lies.'],
    },
    {
      code: 'measure',
      phase: 'measure',
      title: 'pH now, then alkalinity and calcium',
      points: ['How much is missing in the container?'],
      numbers: (system) => [...towardsEdge('ph', 'above')(system), ...limewater(system)],
    },
    {
      code: 'correct',
      phase: 'correct',
      title: `Bring pH to ${highPh.rate.to}, not lower`,
      points: [
        `pH above ${highPh.edge}: ${lowered(highPh.rate.words)} ${highPh.slow}`,
        'Carbon dioxide, if you have it and are trained: stop at 8.4 to 8.5.',
        `Alkalinity above ${fixed.dKH(dkhOf(highAlkalinity.edge))}: ${lowered(highAlkalinity.rate.words)} ${highAlkalinity.slow}`,
      ],
      numbers: waterChange(20, 30),
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: `pH again in ${highPh.againMinutes} minutes`,
      points: [highPh.again, 'Snow can take out more than was added.'],
      againMin: highPh.againMinutes,
    },
  ],
  not: [
    'Pour acid into the tank.',
    '“Balance” it with calcium chloride.',
    'Switch off the flow.',
    'Stir the white powder.',
  ],
};

export const alkalinityLow: EmergencyEvent = {
  code: 'alkalinity',
  group: 'water',
  title: 'Alkalinity falls fast',
  hint: `${fixed.byDKH(0.5)} a day or more below what you expected; pale tips`,
  call: [],
  silenceMin: 30,
  shared: 'alkalinity',
  steps: [
    {
      code: 'doser',
      phase: 'source',
      title: 'Does the doser run, full, with its line open?',
      points: ['Start dosing again at the last known use, not at zero.', 'One additive at one place.'],
    },
    {
      code: 'move',
      phase: 'air',
      title: 'Keep flow and air as they are',
      points: ['No change of light or flow today.'],
    },
    {
      code: 'second',
      phase: 'measure',
      title: 'Test again, with another kit if there is one',
      points: ['A new bottle can be the fault.'],
      numbers: alkalinityFall,
    },
    {
      code: 'raise',
      phase: 'correct',
      title: `Raise by ${fixed.byDKH(dkhOf(low.rate.by ?? 0))} a step, ${low.rate.everyHours[0]} hours or more between`,
      points: [
        `${low.rate.words} ${low.slow}`,
        'Bicarbonate hardly moves pH. Carbonate and limewater lift it.',
      ],
      numbers: alkalinityFall,
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Test again',
      points: [low.again],
      againMin: low.againMinutes,
    },
  ],
  not: [
    'Stop dosing to measure the use.',
    'Two additives together.',
    'Magnesium or trace elements on the same day.',
  ],
};

export const salinity: EmergencyEvent = {
  code: 'salinity',
  group: 'water',
  title: 'Salinity has jumped',
  hint: 'The reading moved by 1 or more; a level too high or too low; flesh swollen or slimy',
  call: ['key_holder', 'plumber', 'neighbour'],
  silenceMin: 5,
  shared: 'salinity',
  steps: [
    {
      code: 'line',
      phase: 'source',
      title: 'Close the fresh-water line by hand',
      points: [
        'Top-up off, purifier off: its supply has no end.',
        'Too salty: is the top-up empty, or did somebody add salt?',
      ],
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Air and movement',
      points: ['Skimmer may foam over: watch the cup.'],
      numbers: oxygenLeft,
    },
    {
      code: 'second',
      phase: 'measure',
      title: 'Second instrument, checked on a 35 standard',
      points: ['Calcium, magnesium and alkalinity moved in the same ratio: it is water.'],
      numbers: salinityStep,
    },
    {
      code: 'correct',
      phase: 'correct',
      title: 'Change water, a step at a time',
      points: [
        `Below ${thin.edge}: ${lowered(thin.rate.words)} ${thin.slow}`,
        `Above ${strong.edge}: ${lowered(strong.rate.words)} ${strong.slow}`,
      ],
      numbers: salinityStep,
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Measure again',
      points: [thin.again, 'Calcium and alkalinity only when salinity is back.'],
      againMin: thin.againMinutes,
    },
  ],
  not: ['Correct calcium or alkalinity in thinned water.', 'Pour in salt.'],
};
