import type { Prisma } from '../../src/generated/prisma/client.ts';
import type { Farm, FarmSystem } from './farm.ts';
import type { DemoTables } from './rows.ts';
import { DAYS, type World } from './world.ts';

type Device = Pick<Prisma.EquipmentCreateManyInput, 'kind' | 'name'> &
  Partial<Prisma.EquipmentCreateManyInput>;

/** Every column that a device can have, so that all rows have the same. */
const blank = {
  ...{ tankId: null, circuitId: null, partOfId: null, runs: '', setpoint: null, setpointUnit: '' },
  ...{ reservoirL: null, useLPerDay: null, filledAt: null, filledL: null, holds: '' },
  ...{ strengthCode: null, strength: null, serviceEveryDays: null, testEveryDays: null, note: '' },
  ...{ seenRunningAt: null, seenRunningById: null },
};

/** Days before today on which the skimmer of one system was last serviced: its next service is due today. */
const serviceDays = 30;

/**
 * What moves, heats and doses each water, on which circuit, with its containers, services and tests: as of today, with one
 * fault that was mended and one service due. Whom to call, and who is on call.
 */
export function equipTheFarm(world: World, farm: Farm, rows: DemoTables): void {
  const builder = new Books(world, farm, rows);
  const [wet, dry] = builder.circuits();
  for (const [index, system] of farm.systems.entries()) builder.equip(system, index, { wet, dry });
  builder.contacts();
}

class Books {
  readonly #world: World;
  readonly #farm: Farm;
  readonly #rows: DemoTables;
  readonly #start: Date;
  readonly #seen: Date;

  constructor(world: World, farm: Farm, rows: DemoTables) {
    this.#world = world;
    this.#farm = farm;
    this.#rows = rows;
    this.#start = world.at(0, 7);
    this.#seen = world.at(DAYS - 1, 17);
  }

  /** Two circuits: flow of each system is spread over both, so that one that trips leaves water moving. */
  circuits(): [string, string] {
    const add = (name: string, place: string) => {
      const id = this.#world.id(this.#start);
      this.#rows.circuit.push({
        ...{ id, siteId: this.#farm.siteId, name, place, note: '', createdAt: this.#start },
        ...{ protection: 'Residual-current device 30 mA', testEveryDays: 31 },
      });
      this.#upkeep({ circuitId: id, work: 'test', daysAgo: 12, note: '' });
      return id;
    };
    return [
      add('Wet side A', 'Board by the door, third from the left'),
      add('Wet side B', 'Board by the door, fourth from the left'),
    ];
  }

  equip(system: FarmSystem, index: number, { wet, dry }: { wet: string; dry: string }): void {
    const { volumeL, temperature } = system.plan;
    const add = (device: Device) => this.#device(system, device);
    const pump = add({
      kind: 'return_pump',
      name: 'Return pump',
      circuitId: wet,
      runs: 'all day',
      serviceEveryDays: 180,
    });
    this.#upkeep({ equipmentId: pump, work: 'service', daysAgo: 40, note: 'Impeller cleaned' });
    for (const { id: tankId } of system.tanks)
      add({ kind: 'wave_pump', name: 'Wave pump', tankId, circuitId: dry, runs: 'all day' });
    const warm = { setpoint: temperature, setpointUnit: '°C' };
    const heaters = ['left', 'right'].map((side, i) =>
      add({ kind: 'heater', name: `Heater ${side}`, circuitId: i === 0 ? wet : dry, ...warm }),
    );
    const skimmer = add({ kind: 'skimmer', name: 'Skimmer', circuitId: wet, serviceEveryDays: serviceDays });
    this.#upkeep({
      equipmentId: skimmer,
      work: 'service',
      daysAgo: index === 0 ? serviceDays : 9,
      note: 'Cup and neck',
    });
    // As much as evaporates: half a per cent of the water a day, for two weeks.
    const useLPerDay = Math.round(volumeL * 0.005);
    const topUp = add({
      ...{ kind: 'top_up', name: 'Top-up', circuitId: dry, holds: 'purified water' },
      ...this.#container(14 * useLPerDay, useLPerDay, 3),
    });
    const float = add({
      kind: 'float_switch',
      name: 'Float of the top-up',
      circuitId: dry,
      partOfId: topUp,
      testEveryDays: 31,
    });
    this.#upkeep({ equipmentId: float, work: 'test', daysAgo: 12, note: '' });
    add({
      ...{ kind: 'doser', name: 'Alkalinity doser', circuitId: dry, holds: 'sodium carbonate' },
      ...{
        strengthCode: 'alkalinity',
        strength: 1000,
        setpoint: Math.round(volumeL * 0.1),
        setpointUnit: 'mL/day',
      },
      ...this.#container(Math.max(2, Math.round(volumeL * 0.002)), Math.round(volumeL * 0.1) / 1000, 5),
    });
    if (index === 0) this.#traceDoser(system, dry);
    if (index === 1) this.#mendedFault(system, heaters[1] ?? '');
  }

  /** A doser that posts its dose by itself: calibrated, filled, and looked into since, with a little more gone than reckoned. */
  #traceDoser(system: FarmSystem, circuitId: string): void {
    const holds = 'Trace elements, mixed here';
    const equipmentId = this.#device(system, {
      ...{ kind: 'doser', name: 'Trace doser', circuitId, holds, reservoirL: 2 },
      ...{ useLPerDay: 0.02, filledL: 1.72, filledAt: this.#world.at(DAYS - 6, 9) },
    });
    const by = (daysAgo: number, hour: number, accountId: string) => {
      const at = this.#world.at(DAYS - daysAgo, hour);
      return { id: this.#world.id(at), equipmentId, createdAt: at, accountId, at };
    };
    const { hand, manager } = this.#farm.people;
    const measured = { ml: 21, runs: 10, per: 'minute', againDays: 60, note: 'Into a cylinder of 25 mL' };
    this.#rows.doserCalibration.push({ ...by(34, 10, hand), ...measured });
    const { at: fromAt, ...planned } = by(33, 9, manager);
    this.#rows.doserPlan.push({ ...planned, fromAt, perDay: 10, unit: 'minutes', substance: holds });
    this.#rows.containerLevel.push({ ...by(20, 9, hand), afterL: 2 });
    this.#rows.containerLevel.push({ ...by(6, 9, hand), seenL: 1.72, afterL: 1.72 });
  }

  #container(reservoirL: number, useLPerDay: number, daysAgo: number) {
    return { reservoirL, useLPerDay, filledL: reservoirL, filledAt: this.#world.at(DAYS - daysAgo, 10) };
  }

  #device({ id: systemId }: FarmSystem, device: Device): string {
    const id = this.#world.id(this.#start);
    const seen = { seenRunningAt: this.#seen, seenRunningById: this.#farm.people.hand };
    this.#rows.equipment.push({
      ...blank,
      ...seen,
      ...device,
      id,
      systemId,
      createdAt: this.#start,
      version: 1,
    });
    return id;
  }

  #upkeep({
    daysAgo,
    ...row
  }: Pick<Prisma.UpkeepCreateManyInput, 'equipmentId' | 'circuitId' | 'work' | 'note'> & {
    daysAgo: number;
  }): void {
    const at = this.#world.at(DAYS - daysAgo, 11);
    const by = { accountId: this.#farm.people.hand, at, createdAt: at };
    this.#rows.upkeep.push({ equipmentId: null, circuitId: null, ...row, ...by, id: this.#world.id(at) });
  }

  #mendedFault(system: FarmSystem, equipmentId: string): void {
    const [notedAt, mendedAt] = [this.#world.at(DAYS - 47, 9), this.#world.at(DAYS - 47, 14)];
    this.#rows.fault.push({
      ...{ id: this.#world.id(notedAt), systemId: system.id, equipmentId, notedAt, createdAt: notedAt },
      ...{ seen: 'Its light stays on, the glass is cold', accountId: this.#farm.people.hand },
      ...{ mendedAt, mendedById: this.#farm.people.manager, mended: 'Put in another one, seen warming' },
    });
  }

  contacts(): void {
    const at = this.#start;
    const add = (
      role: Prisma.ContactCreateManyInput['role'],
      name: string,
      number: string,
      onCall: number | null,
    ) =>
      this.#rows.contact.push({
        ...{
          id: this.#world.id(at),
          siteId: this.#farm.siteId,
          role,
          name,
          number,
          email: '',
          onCall,
          note: '',
        },
        ...{ testedOn: this.#world.at(DAYS - 20, 12), createdAt: at, version: 1 },
      });
    add('ambulance', '', '112', null);
    add('electrician', 'Duarte Lume', '+351 21 000 11 22', null);
    add('key_holder', 'Ines Tarn', '+351 21 000 33 44', 1);
    add('key_holder', 'Rui Abell', '+351 21 000 55 66', 2);
  }
}
