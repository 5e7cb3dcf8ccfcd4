import { fixed } from '../../platform/units/everyday.ts';
import { oxygenLeft } from '../numbers/oxygen.rules.ts';
import { poisonHere } from '../numbers/poison.rules.ts';
import { type EmergencyEvent, mainsCaution } from './event.ts';

export const personHurt: EmergencyEvent = {
  code: 'person',
  group: 'people',
  title: 'A person is hurt or feels ill',
  hint: 'Shock, burn, splash in the eye, faint, numb lips, hard to breathe',
  caution: 'The animals wait. Call first if you are in doubt, and follow what you are told.',
  call: ['ambulance', 'poison_centre', 'fire_service', 'key_holder'],
  silenceMin: 5,
  steps: [
    {
      code: 'breaker',
      phase: 'people',
      title: 'Make it safe before you touch the person',
      points: [
        'Shock: switch off at the breaker first. Do not touch the person or the water before.',
        'Gas, smoke, dizzy: get out into the open air. Nobody goes back in alone.',
      ],
    },
    {
      code: 'call',
      phase: 'people',
      title: 'Call the ambulance',
      points: [
        'Faint, chest pain, burn, hard to breathe, not awake: now.',
        'After any electric shock: a doctor today, even if the person feels well.',
      ],
    },
    {
      code: 'rinse',
      phase: 'people',
      title: 'Rinse, and call the poison centre',
      points: [
        'Limewater, its powder, other caustics in the eye or on the skin: rinse with running water for 15 minutes, then a doctor.',
        'Swallowed: rinse the mouth, do not make the person sick. Keep the container at hand.',
        'Zoanthids cut, scrubbed or heated; numbness, cough, fever, pain in the eye: this can be palytoxin. Leave the room, open it, tell them that word.',
      ],
      numbers: poisonHere,
    },
    {
      code: 'stay',
      phase: 'people',
      title: 'Stay with the person until help is there',
      points: ['Send somebody to the gate to show the way.'],
    },
    {
      code: 'source',
      phase: 'source',
      title: 'Close off what did it',
      points: ['Only if that is safe: plug, valve, lid, door. Nobody else goes near it.'],
    },
    {
      code: 'animals',
      phase: 'again',
      title: 'Look at the animals when the person is looked after',
      points: ['If power was cut, air and movement come first.'],
      numbers: oxygenLeft,
      againMin: 30,
    },
  ],
  not: ['Work on alone.', 'Drive yourself.'],
};

export const electric: EmergencyEvent = {
  code: 'electric',
  group: 'people',
  power: true,
  title: 'A tingle, a shock, or something electric is in the water',
  hint: 'A breaker that trips, a cable or lamp that fell in, a burnt smell',
  caution: mainsCaution,
  call: ['electrician', 'ambulance', 'fire_service', 'key_holder'],
  silenceMin: 5,
  steps: [
    {
      code: 'hands-off',
      phase: 'people',
      title: 'Do not touch the water',
      points: [
        'Tell everybody. Nobody reaches into the tank, the sump or a wet device.',
        'Somebody felt a tingle or a shock: a doctor today; ambulance if faint, chest pain or burn.',
        'Smoke or fire: out, close the door, fire service.',
      ],
    },
    {
      code: 'breaker',
      phase: 'source',
      title: 'Switch off at the breaker',
      points: [
        'From a dry place, with dry hands. Then pull the plugs.',
        'A protection switch that tripped is a message: leave it off. Never bypass it.',
      ],
      numbers: (system) =>
        system.circuits.map(({ name, devices }) => `${name} stops: ${devices.join(', ')}.`),
    },
    {
      code: 'air',
      phase: 'air',
      title: 'Air from a battery pump',
      points: ['The most crowded water first.', 'Only from a circuit that was not touched, or by battery.'],
      numbers: oxygenLeft,
    },
    {
      code: 'sample',
      phase: 'measure',
      title: 'If it stood or broke in the water, take two samples',
      points: [
        `${fixed.litres(1)} each, sealed, dated, cold. Metals do not show in usual tests.`,
        'Fresh activated carbon, and water from another source once the electrician is done.',
      ],
    },
    {
      code: 'electrician',
      phase: 'correct',
      title: 'Call a qualified electrician',
      points: [
        'Before anything is switched on again.',
        'Every circuit behind a residual-current device, tested as local rules ask.',
      ],
    },
    {
      code: 'look',
      phase: 'again',
      title: 'Look at the animals',
      points: ['Count oxygen and temperature while the power is off.'],
      numbers: oxygenLeft,
      againMin: 30,
    },
  ],
  not: [
    'Measure voltages yourself and act on them.',
    'Take out protection, or add a grounding probe, as a cure.',
    'Switch on to see what happens.',
  ],
};
