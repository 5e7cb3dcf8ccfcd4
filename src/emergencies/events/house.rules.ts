import { needed } from '../../water/acute/acute-states.rules.ts';
import { levelDrop, roomAir } from '../numbers/chemistry.rules.ts';
import { beforeOxygenEnds, byHand, oxygenLeft } from '../numbers/oxygen.rules.ts';
import { towardsEdge } from '../numbers/pace.rules.ts';
import { poisonHere } from '../numbers/poison.rules.ts';
import { beforeCold, coolingTime } from '../numbers/temperature.rules.ts';
import { type EmergencyEvent, mainsCaution } from './event.ts';

const lowPh = needed('ph', 'below');

const circuitsOf: NonNullable<EmergencyEvent['steps'][number]['numbers']> = ({ circuits }) =>
  circuits.map(({ name, devices }) => `${name}: ${devices.join(', ')}.`);

export const power: EmergencyEvent = {
  code: 'power',
  group: 'house',
  power: true,
  title: 'The power is out, or the pumps stand still',
  hint: 'Dark, silent, several probes gone at one moment, water does not move',
  caution: mainsCaution,
  call: ['power_supplier', 'electrician', 'key_holder', 'neighbour'],
  silenceMin: 5,
  sooner: [beforeOxygenEnds, beforeCold],
  steps: [
    {
      code: 'light',
      phase: 'people',
      title: 'Get a torch. No wet hands at the breakers',
      points: [
        'Generator: outdoors only, 6 m (20 feet) or more from doors and windows. Its exhaust kills.',
        'A protection switch that trips again stays off.',
      ],
    },
    {
      code: 'breaker',
      phase: 'source',
      title: 'Is it the street, the breaker or one pump?',
      points: [
        'Lights in the street off: power company.',
        'Breaker tripped: unplug everything on it, switch on, then one device at a time.',
      ],
      numbers: circuitsOf,
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Move water and air, now',
      points: [
        'Battery air pumps on the most crowded water first. Then the return pump, then heat or cooling. Lights last.',
        'Lids off.',
      ],
      numbers: (system) => [...oxygenLeft(system), ...byHand(system)],
    },
    {
      code: 'warm',
      phase: 'air',
      title: 'Keep the temperature',
      points: [
        'Cold room: cover the tanks once air is running, insulate the sides, close the room.',
        'Hot room: open it, lids off, a fan by battery.',
      ],
      numbers: coolingTime,
    },
    {
      code: 'rest',
      phase: 'separate',
      title: 'Leave the animals in peace',
      points: [
        'No feeding for 24 hours. No doses, and none made up for later.',
        'The best animals go to a farm nearby if oxygen will not last.',
      ],
    },
    {
      code: 'measure',
      phase: 'measure',
      title: 'Oxygen and temperature by hand',
      points: ['Write them down: probes are silent.'],
      numbers: (system) => [
        ...towardsEdge('oxygen', 'below')(system),
        ...towardsEdge('temperature', 'above')(system),
      ],
      againMin: 30,
    },
    {
      code: 'return',
      phase: 'correct',
      title: 'When the power is back',
      points: [
        'See that every pump really turns and every heater warms.',
        'Throw away water that stood in canisters and dead pipes; empty the skimmer cup.',
        'Do not stir the sand. Lights at half on the first day.',
      ],
    },
    {
      code: 'tests',
      phase: 'again',
      title: 'Test at 0, 12, 24 and 48 hours',
      points: [
        'Oxygen, temperature, ammonia, alkalinity.',
        'Set mechanical timers: they are late by the length of the cut.',
      ],
      againMin: 720,
    },
  ],
  not: ['Feed.', 'Run a generator, a grill or a flame indoors.', 'Give all missed doses at once.'],
};

export const leak: EmergencyEvent = {
  code: 'leak',
  group: 'house',
  power: true,
  title: 'Water where it should not be',
  hint: 'A leak, a flood, a level that falls or runs over',
  caution: mainsCaution,
  call: ['electrician', 'plumber', 'landlord', 'fire_service', 'key_holder'],
  silenceMin: 5,
  sooner: [beforeOxygenEnds],
  steps: [
    {
      code: 'mains',
      phase: 'people',
      title: 'Mains off from a dry place',
      points: [
        'Do not wade towards sockets.',
        'Water on electrics, or smoke: out, and call the fire service.',
      ],
    },
    {
      code: 'pump',
      phase: 'source',
      title: 'Stop the return pump, close the valve',
      points: [
        'Close the top-up and the fresh-water line by hand: it fills what the leak takes.',
        'A crack: lower the water below it into clean containers.',
      ],
      numbers: levelDrop,
    },
    {
      code: 'heater',
      phase: 'source',
      title: 'Unplug heaters that will stand dry',
      points: [
        'A heater that ran dry can burst when it gets wet. It does not go back.',
        'Do pumps suck air?',
      ],
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Air and movement in the water that is left',
      points: ['Less water holds less oxygen. A battery pump or a small pump in each tank.'],
      numbers: oxygenLeft,
    },
    {
      code: 'move',
      phase: 'separate',
      title: 'Cover or move what stands dry',
      points: ['Wet cloth with tank water on corals that stick out; into clean tank water within minutes.'],
      numbers: poisonHere,
    },
    {
      code: 'salinity',
      phase: 'measure',
      title: 'Level, salinity, temperature',
      points: ['Write down how far the level fell.'],
    },
    {
      code: 'refill',
      phase: 'correct',
      title: 'Refill with salt water of the same temperature and salinity',
      points: ['Not with fresh water: the top-up would thin what is left.'],
      numbers: levelDrop,
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Look again',
      points: ['Salinity once more after refilling, and the floor.'],
      againMin: 60,
    },
  ],
  not: ['Walk through water towards a socket.', 'Leave the top-up running.'],
};

export const phFalls: EmergencyEvent = {
  code: 'ph-falls',
  group: 'house',
  title: 'pH is falling, or the air is bad',
  hint: 'Several systems together, windows shut, people or burners in the room, a gas bottle',
  caution:
    'Carbon dioxide from a bottle or reactor in a closed room kills without a smell. 5,000 ppm is the limit for eight hours, 40,000 an immediate danger. Headache or short of breath: leave, and close the bottle from outside if you can. Local rules apply.',
  call: ['fire_service', 'ambulance', 'key_holder'],
  silenceMin: 5,
  shared: 'ph',
  steps: [
    {
      code: 'out',
      phase: 'people',
      title: 'Open doors and windows. Feeling ill: everybody out',
      points: ['Gas bottle or reactor leaking: leave, let air in, close it from outside.'],
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Outside air to the room and the skimmer',
      points: [
        'Air stones on, with air from outside. Skimmer hose out of the window.',
        'Burners and flames out.',
      ],
    },
    {
      code: 'changed',
      phase: 'source',
      title: 'What changed for all of them?',
      points: [
        'Within 14 days: windows, people, heating, scrubber, limewater, the make-up water, a pH probe calibrated again.',
      ],
    },
    {
      code: 'cup',
      phase: 'measure',
      title: 'Test a cup of the water',
      points: [
        'A jar of it outdoors with an air stone for an hour. It rises by 0.1 to 0.2 or more: it is the room air.',
        'Second pH meter or a fresh buffer. Alkalinity: unchanged if it is the air.',
      ],
      numbers: roomAir,
    },
    {
      code: 'leave',
      phase: 'correct',
      title: 'Let the air do it',
      points: [lowPh.rate.words, 'Ammonia in the water: do not raise pH first.', lowPh.slow],
    },
    {
      code: 'again',
      phase: 'again',
      title: 'Measure again',
      points: [lowPh.again, 'And, if there is a meter, carbon dioxide of the room.'],
      againMin: lowPh.againMinutes,
    },
  ],
  not: ['Add buffer or carbonate to lift pH.', 'Sit in the room to watch it.'],
};
