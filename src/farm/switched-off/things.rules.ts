import type { EquipmentKind, OffThing } from '../../generated/prisma/client.ts';
import { minuteMs } from '../../science/numeric/time.ts';

/** How long something may be off for now, in minutes: when it is due back, and from when everybody must act. */
export interface OffMinutes {
  dueMin: number;
  lateMin: number;
}

/** What can be off, open or out of force for now. */
export interface Thing extends OffMinutes {
  /** Off or open overnight it can cost stock: movement, air, warmth, and a valve that stands open. Own choice. */
  keepsAlive: boolean;
  /** As people call it: "Wave pump". */
  name: string;
  /** "off", "open" or "out of force". */
  state: string;
  /** What to check on return, unless the person says otherwise. */
  onReturn: string;
  /** One line on switching it on again, which carries a risk of its own. */
  caution: string;
}

const hour = 60;
const day = 24 * hour;

/**
 * Times until something is due back, and until its lateness concerns everybody. All are proposals for a farm to set
 * (own choice, from what each can do to the water meanwhile); none is a finding of science.
 */
export const things: Readonly<Record<OffThing, Thing>> = {
  all_flow: {
    name: 'All flow in a tank',
    keepsAlive: true,
    state: 'off',
    dueMin: 30,
    lateMin: 35,
    onReturn: 'Water moves in every tank.',
    caution: '',
  },
  return_pump: {
    name: 'Return or main pump',
    keepsAlive: true,
    state: 'off',
    dueMin: 30,
    lateMin: 35,
    onReturn: 'Water runs back from the sump, and its level is as usual.',
    caution: 'Look at the level in the sump while it starts.',
  },
  wave_pump: {
    name: 'Wave pump',
    keepsAlive: true,
    state: 'off',
    dueMin: 2 * hour,
    lateMin: 3 * hour,
    onReturn: 'It turns and moves water.',
    caution: '',
  },
  air: {
    name: 'Air pump',
    keepsAlive: true,
    state: 'off',
    dueMin: 4 * hour,
    lateMin: 5 * hour,
    onReturn: 'Bubbles rise.',
    caution: '',
  },
  skimmer: {
    name: 'Skimmer',
    keepsAlive: false,
    state: 'off',
    dueMin: 4 * hour,
    lateMin: 5 * hour,
    onReturn: 'It foams, and its cup does not overflow.',
    caution: 'Stay until it is steady: after a dose it can foam over.',
  },
  heating: {
    name: 'Heater',
    keepsAlive: true,
    state: 'off',
    dueMin: hour,
    lateMin: 2 * hour,
    onReturn: 'The temperature moves towards its setpoint.',
    caution: 'Never switch on a heater that has run dry: it can burst. Put in another one.',
  },
  cooling: {
    name: 'Cooler',
    keepsAlive: true,
    state: 'off',
    dueMin: hour,
    lateMin: 2 * hour,
    onReturn: 'The temperature moves towards its setpoint.',
    caution: '',
  },
  doser: {
    name: 'Doser',
    keepsAlive: false,
    state: 'off',
    dueMin: 12 * hour,
    lateMin: 14 * hour,
    onReturn: 'Its line drips at the next dose.',
    caution:
      'Watch the first dose: after a blockage a slug can follow. Do not make up in one go for what was not dosed.',
  },
  reactor: {
    name: 'Reactor',
    keepsAlive: false,
    state: 'off',
    dueMin: 12 * hour,
    lateMin: 14 * hour,
    onReturn: 'Water runs through it.',
    caution: 'Let the first water run to waste: what stood in it has lost its oxygen.',
  },
  top_up: {
    name: 'Top-up',
    keepsAlive: false,
    state: 'off',
    dueMin: 12 * hour,
    lateMin: 14 * hour,
    onReturn: 'It fills, and its float stops it.',
    caution: 'Stay until the float has stopped it.',
  },
  light: {
    name: 'Lamp',
    keepsAlive: false,
    state: 'off',
    dueMin: 12 * hour,
    lateMin: day,
    onReturn: 'It is lit at its usual setting.',
    caution: 'Begin dimmer than before after days in the dark.',
  },
  valve_open: {
    name: 'Valve, drain or hose',
    keepsAlive: true,
    state: 'open',
    dueMin: 10,
    lateMin: 12,
    onReturn: 'It is closed, and the level stands still.',
    caution: 'Stay with it while it runs.',
  },
  by_hand: {
    name: 'Limewater by hand, or carbon past its reactor',
    keepsAlive: false,
    state: 'running',
    dueMin: 10,
    lateMin: 20,
    onReturn: 'It is closed, and the stated amount went in.',
    caution: 'Stay with it while it runs. Wear gloves and goggles: limewater is caustic.',
  },
  protection: {
    name: 'Float, breaker or alarm disabled',
    keepsAlive: false,
    state: 'disabled',
    dueMin: hour,
    lateMin: hour + 15,
    onReturn: 'It was tested and works.',
    caution: 'Lock and label what must not be switched on: a record here makes nothing safe.',
  },
  media_filter: {
    name: 'Ultraviolet, ozone, carbon or resin',
    keepsAlive: false,
    state: 'off',
    dueMin: 7 * day,
    lateMin: 8 * day,
    onReturn: 'Water runs through it.',
    caution: 'Rinse carbon and resin that stood still before they are used again.',
  },
  other: {
    name: 'Something else',
    keepsAlive: false,
    state: 'off',
    dueMin: 4 * hour,
    lateMin: 5 * hour,
    onReturn: 'It works as before.',
    caution: '',
  },
};

/** The things in the order in which lists show them. */
export const thingCodes = Object.keys(things) as [OffThing, ...OffThing[]];

/** What it is for a device of this kind to be off. */
export const thingOf: Readonly<Record<EquipmentKind, OffThing>> = {
  return_pump: 'return_pump',
  wave_pump: 'wave_pump',
  air_pump: 'air',
  heater: 'heating',
  chiller: 'cooling',
  doser: 'doser',
  top_up: 'top_up',
  float_switch: 'protection',
  skimmer: 'skimmer',
  reactor: 'reactor',
  media_filter: 'media_filter',
  lamp: 'light',
  purifier: 'other',
  other: 'other',
};

/** The longest that anything may be off without a new decision, minutes: 14 days, own choice. */
export const LONGEST_OFF_MIN = 14 * day;

/**
 * When something that is off is due back and from when it is late: by its own times, or so many minutes as a person
 * said. Late follows the time due as closely as by its own times, at most by half of the time said.
 */
export function offUntil(
  offAt: Date,
  times: OffMinutes,
  saidMin: number | null,
): { dueAt: Date; lateAt: Date } {
  const due = saidMin ?? times.dueMin;
  const after = times.lateMin - times.dueMin;
  const late = due + (saidMin === null ? after : Math.min(after, Math.max(5, saidMin / 2)));
  return {
    dueAt: new Date(offAt.getTime() + due * minuteMs),
    lateAt: new Date(offAt.getTime() + late * minuteMs),
  };
}
