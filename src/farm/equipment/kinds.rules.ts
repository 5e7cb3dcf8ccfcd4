import type { EquipmentKind } from '../../generated/prisma/client.ts';

/** What the books ask of a kind of equipment, beside its name, place, circuit, service and note. */
interface KindOfEquipment {
  name: string;
  /** Where in the tank it is and which way it blows. */
  placed?: true;
  /** The unit its setpoint usually has; kinds without one have no setpoint. */
  setpointUnit?: string;
  /** It has a container that runs empty. */
  reservoir?: true;
  /** It is part of a top-up, and is tested. */
  tested?: true;
}

/** A float, and the protection of a circuit, are tested once a month: suggested when they are added; common practice. */
export const testedEveryDays = 30;

/** The kinds in the order in which lists show them. */
export const kinds: Readonly<Record<EquipmentKind, KindOfEquipment>> = {
  return_pump: { name: 'Return pump', placed: true },
  wave_pump: { name: 'Wave pump', placed: true },
  air_pump: { name: 'Air pump' },
  heater: { name: 'Heater', setpointUnit: '°C' },
  chiller: { name: 'Cooler', setpointUnit: '°C' },
  doser: { name: 'Doser', setpointUnit: 'mL/day', reservoir: true },
  top_up: { name: 'Top-up', reservoir: true },
  float_switch: { name: 'Float switch', tested: true },
  skimmer: { name: 'Skimmer' },
  reactor: { name: 'Reactor', setpointUnit: 'pH', reservoir: true },
  media_filter: { name: 'Ultraviolet, ozone, carbon or resin' },
  lamp: { name: 'Lamps' },
  purifier: { name: 'Water purifier', reservoir: true },
  other: { name: 'Other equipment', setpointUnit: '' },
};

/** The kinds that a person adds; lamps come with their own page. */
export const addedKinds = (Object.keys(kinds) as EquipmentKind[]).filter((kind) => kind !== 'lamp') as [
  EquipmentKind,
  ...EquipmentKind[],
];
