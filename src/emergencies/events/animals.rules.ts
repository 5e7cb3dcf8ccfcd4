import { fixed } from '../../platform/units/everyday.ts';
import { needed } from '../../water/acute/acute-states.rules.ts';
import { thiosulphate, waterChange } from '../numbers/chemistry.rules.ts';
import { carbonReach, oxygenLeft, oxygenNow } from '../numbers/oxygen.rules.ts';
import { poisonHere } from '../numbers/poison.rules.ts';
import type { EmergencyEvent } from './event.ts';

const lowOxygen = needed('oxygen', 'below');
const highAmmonia = needed('ammonia', 'above');
const highCopper = needed('copper', 'above');

export const oxygenLow: EmergencyEvent = {
  code: 'oxygen',
  group: 'animals',
  power: true,
  title: 'Fish gasp, snails climb out, corals shrink',
  hint: 'Worst before dawn, after feeding, a death or a pump that stopped',
  call: ['key_holder', 'neighbour', 'vet'],
  silenceMin: 5,
  steps: [
    {
      code: 'air',
      phase: 'air',
      title: 'Air stones in, pumps at the surface, lids off',
      points: [
        'Skimmer air wide open. Pumps out of their saving mode.',
        'This costs nothing if it is something else.',
      ],
      numbers: oxygenLeft,
    },
    {
      code: 'stop',
      phase: 'source',
      title: 'Stop feeding and carbon dosing',
      points: ['Bypass a reactor with solid carbon.'],
    },
    {
      code: 'dead',
      phase: 'source',
      title: 'Find the dead animal and take it out',
      points: ['Look behind racks, in the overflow, in the sump. Gloves.'],
      numbers: poisonHere,
    },
    {
      code: 'measure',
      phase: 'measure',
      title: 'Oxygen, temperature, ammonia',
      points: [
        `Below 2 mg/L it is a matter of minutes, below ${lowOxygen.edge} act now, below ${lowOxygen.rate.to} today.`,
      ],
      numbers: oxygenNow,
    },
    {
      code: 'change',
      phase: 'correct',
      title: 'Change well-aired water if air is not enough',
      points: ['Same temperature and salinity.', lowOxygen.rate.words],
      numbers: waterChange(20, 30),
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Measure again',
      points: [lowOxygen.again],
      againMin: lowOxygen.againMinutes,
    },
  ],
  not: ['Switch lights to full “to make oxygen”.', 'Pour in peroxide, unless a vet says so.'],
};

export const contamination: EmergencyEvent = {
  code: 'contamination',
  group: 'animals',
  title: 'Something got into the water, or everything closed at once',
  hint: 'Cleaner, spray, paint, metal, a battery, a broken heater, new make-up water',
  caution:
    'If people feel ill or smell fumes: out, and call. Something electric in the water: breaker off first.',
  call: ['water_supplier', 'poison_centre', 'vet', 'neighbour', 'key_holder'],
  silenceMin: 5,
  steps: [
    {
      code: 'safe',
      phase: 'people',
      title: 'Is it safe to reach in?',
      points: ['Electric or broken glass: breaker off first. Gloves.', 'Never mix cleaners.'],
      numbers: poisonHere,
    },
    {
      code: 'stop',
      phase: 'source',
      title: 'Stop the top-up. Take the thing out',
      points: ['And stop what feeds from the same make-up water.'],
    },
    {
      code: 'sample',
      phase: 'measure',
      title: `Two samples of ${fixed.litres(1)}, now`,
      points: ['Sealed, dated, cold. In an hour chlorine may not be found any more.'],
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Air up, skimmer on, fresh activated carbon',
      points: ['Resin for metals if there is some.'],
      numbers: oxygenLeft,
    },
    {
      code: 'apart',
      phase: 'separate',
      title: 'Move the best animals to clean water',
      points: ['Water that shares neither make-up, hands nor tools with this.'],
    },
    {
      code: 'change',
      phase: 'correct',
      title: 'Change 30 to 50 % from other source water',
      points: [
        highCopper.rate.words,
        'Chlorine: thiosulphate. Chloramine leaves ammonia: test for it after.',
      ],
      numbers: (system) => [...waterChange(30, 50)(system), ...thiosulphate(system)],
      practice: true,
    },
    {
      code: 'ask',
      phase: 'measure',
      title: 'What went into or over this water in 24 hours?',
      points: [
        'Hands, paint, bleach, spray, new metal or hose, top-up water, a battery, a heater.',
        'Your tests may be normal: they do not test for this. Ask the water company about flushing.',
      ],
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Look at the animals again',
      points: [highCopper.again],
      againMin: highCopper.againMinutes,
    },
  ],
  not: ['Wait for a test to prove it.', 'Add a chelator without advice.'],
};

export const ammonia: EmergencyEvent = {
  code: 'ammonia',
  group: 'animals',
  title: 'Something died, it smells, or ammonia shows',
  hint: 'Foam, cloudy water, any ammonia above the lowest step of the kit',
  caution:
    'A smell of rotten eggs, or eyes that sting: open doors and windows, go out, and go in again only with somebody at the door. This gas dulls the nose: a smell that fades is no all-clear. Who feels ill sees a doctor.',
  call: ['key_holder', 'vet', 'neighbour'],
  silenceMin: 5,
  steps: [
    {
      code: 'air',
      phase: 'air',
      title: 'Air up, no feeding',
      points: ['Skimmer on. If fish gasp, this comes before the search for what died.'],
      numbers: oxygenLeft,
    },
    {
      code: 'out',
      phase: 'source',
      title: 'Take out what is dead',
      points: ['Gloves. A dead colony uses up more oxygen than the water holds.'],
      numbers: poisonHere,
    },
    {
      code: 'apart',
      phase: 'separate',
      title: 'Fish and best corals to clean water if they gasp',
      points: ['Same temperature and salinity.'],
    },
    {
      code: 'measure',
      phase: 'measure',
      title: 'Ammonia with pH and temperature',
      points: ['The higher the pH, the more of it is poison.'],
    },
    {
      code: 'change',
      phase: 'correct',
      title: 'Change 30 to 50 %',
      points: [highAmmonia.rate.words, highAmmonia.slow],
      numbers: waterChange(30, 50),
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Test again',
      points: [highAmmonia.again],
      againMin: highAmmonia.againMinutes,
    },
  ],
  not: ['Raise pH.', 'Feed.'],
};

export const carbon: EmergencyEvent = {
  code: 'carbon',
  group: 'animals',
  title: 'A cloud or slime after carbon dosing',
  hint: 'Cloudy 12 to 48 hours after a start or restart; slime strings; nutrients collapse',
  call: ['neighbour'],
  silenceMin: 30,
  steps: [
    {
      code: 'stop',
      phase: 'source',
      title: 'Stop it, bypass the reactor',
      points: ['Liquid, pellets, vinegar: all of it.'],
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Air and skimmer up, now',
      points: ['The cloud breathes.'],
      numbers: (system) => [...oxygenLeft(system), ...carbonReach(system)],
    },
    {
      code: 'measure',
      phase: 'measure',
      title: 'Oxygen before dawn, nitrate, phosphate',
      points: ['For three days.'],
      numbers: oxygenNow,
    },
    {
      code: 'change',
      phase: 'correct',
      title: 'Change 20 to 30 %',
      points: ['Same temperature and salinity.'],
      numbers: waterChange(20, 30),
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Look again',
      points: [
        'Oxygen before dawn for three days. Nitrate and phosphate once a day.',
        'Restart at a quarter of the old rate, up by a quarter a week.',
      ],
      againMin: 240,
    },
  ],
  not: ['Switch it back on at the old rate.'],
};

export const tissueLoss: EmergencyEvent = {
  code: 'tissue',
  group: 'animals',
  title: 'Corals lose tissue',
  hint: 'A white edge that moves, jelly, two corals that are not related',
  call: ['vet'],
  silenceMin: 30,
  steps: [
    {
      code: 'gloves',
      phase: 'people',
      title: 'Gloves and goggles',
      points: [
        'Zoanthids among them can hold palytoxin: no cutting, scrubbing or hot water without protection.',
      ],
      numbers: poisonHere,
    },
    { code: 'air', phase: 'air', title: 'Good movement and air', points: ['Pumps clean and turning.'] },
    {
      code: 'apart',
      phase: 'separate',
      title: 'Move the sick piece to water of its own',
      points: ['Healthy first, sick last. Own tools, own net.'],
    },
    {
      code: 'measure',
      phase: 'measure',
      title: 'Test the water before you blame a disease',
      points: [
        'Alkalinity, salinity, temperature, ammonia, oxygen. Two unrelated corals in a day: it is the system.',
        'Photo with a ruler, and the time.',
      ],
    },
    {
      code: 'cut',
      phase: 'correct',
      title: `Cut ${fixed.cm(1, 2)} into healthy tissue`,
      points: ['Only if it still moves. Medicines: ask a vet.'],
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Photo again',
      points: ['After 12 and 24 hours. Twice as much in 24 hours: act now.'],
      againMin: 720,
    },
  ],
  not: ['Move it past healthy ones.', 'Treat the whole tank at once.'],
};

export const treatment: EmergencyEvent = {
  code: 'treatment',
  group: 'animals',
  title: 'A bath or treatment went wrong',
  hint: 'Slime, gut threads, white tips during a bath or hours after',
  caution: 'On your skin or in your eye: rinse, then the poison centre.',
  call: ['vet', 'poison_centre'],
  silenceMin: 30,
  steps: [
    {
      code: 'out',
      phase: 'source',
      title: 'Out of the bath into clean water, at once',
      points: [
        'Same temperature and salinity. Two rinses.',
        'Treated in the tank: fresh carbon and skimmer.',
      ],
      numbers: poisonHere,
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Air and movement',
      points: ['Dying worms use oxygen too.'],
      numbers: oxygenLeft,
    },
    {
      code: 'measure',
      phase: 'measure',
      title: 'Write it down: what, how strong, how long',
      points: ['Volume and temperature too. Ammonia in the tank.'],
    },
    {
      code: 'change',
      phase: 'correct',
      title: 'In the tank: change 30 to 50 %',
      points: ['Same temperature and salinity.'],
      numbers: waterChange(30, 50),
      practice: true,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Look again',
      points: ['After 1, 6, 24 and 48 hours, with ammonia.'],
      againMin: 60,
    },
  ],
  not: ['A second product on top.', 'More than the label says.'],
};
