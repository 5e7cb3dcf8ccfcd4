import {
  LAYOUT,
  type LampPlan,
  RACK_ROWS,
  type RackPlan,
  SITE,
  type SystemPlan,
  type TankPlan,
} from './layout.ts';
import { demoPeople } from './people.ts';
import { dkh } from './planted.ts';
import type { DemoTables } from './rows.ts';
import type { World } from './world.ts';

export interface FarmSlot {
  id: string;
  row: number;
  column: number;
}

/** The slots of one rack that one kind is kept in, so that kinds stand out of each other's reach. */
export interface Block {
  kindCode: string;
  rack: FarmRack;
  slots: FarmSlot[];
}

export interface FarmRack {
  id: string;
  plan: RackPlan;
  lamp: FarmLamp;
  slots: FarmSlot[];
  blocks: Block[];
}

interface FarmLamp {
  id: string;
  plan: LampPlan;
}

export interface FarmTank {
  id: string;
  plan: TankPlan;
  racks: FarmRack[];
}

export interface FarmSystem {
  id: string;
  plan: SystemPlan;
  tanks: FarmTank[];
}

/** The farm as it stands: who works there, and systems with their tanks, lamps, racks, slots. */
export interface Farm {
  siteId: string;
  people: { hand: string; manager: string; owner: string };
  systems: FarmSystem[];
}

/** Builds the farm of the layout and notes its rows. */
export function buildFarm(world: World, rows: DemoTables): Farm {
  const start = world.at(0, 6);
  const siteId = world.id(start);
  rows.site.push({ id: siteId, ...SITE, createdAt: start });
  const people = hirePeople(world, rows);
  const builder = new Builder(world, rows, start);
  return { siteId, people, systems: LAYOUT.map((plan, index) => builder.system(siteId, plan, index)) };
}

function hirePeople(world: World, rows: DemoTables): Farm['people'] {
  const [hand, manager, owner] = demoPeople.map((person) => {
    const id = world.id(world.at(0, 6));
    rows.account.push({ id, ...person, createdAt: world.at(0, 6) });
    return id;
  }) as [string, string, string];
  return { hand, manager, owner };
}

class Builder {
  readonly #world: World;
  readonly #rows: DemoTables;
  readonly #start: Date;

  constructor(world: World, rows: DemoTables, start: Date) {
    this.#world = world;
    this.#rows = rows;
    this.#start = start;
  }

  system(siteId: string, plan: SystemPlan, position: number): FarmSystem {
    const { name, volumeL, note } = plan;
    const id = this.#id();
    this.#rows.system.push({ id, siteId, name, volumeL, note, position, createdAt: this.#start });
    for (const kept of keptQuantities()) this.#rows.systemQuantity.push({ systemId: id, ...kept });
    return { id, plan, tanks: plan.tanks.map((tank, index) => this.#tank(id, tank, index)) };
  }

  #tank(systemId: string, plan: TankPlan, position: number): FarmTank {
    const id = this.#id();
    const [lengthMm, widthMm, heightMm] = plan.sizeMm;
    const { name } = plan;
    this.#rows.tank.push({
      id,
      systemId,
      name,
      position,
      lengthMm,
      widthMm,
      heightMm,
      createdAt: this.#start,
    });
    return { id, plan, racks: plan.lamps.flatMap((lamp) => this.#lamp(id, lamp)) };
  }

  #lamp(tankId: string, plan: LampPlan): FarmRack[] {
    const lamp = { id: this.#id(), plan };
    this.#rows.lamp.push({ id: lamp.id, tankId, name: plan.name, litHours: 10, rampHours: 1 });
    this.#rows.lampSetting.push({
      id: this.#id(),
      lampId: lamp.id,
      at: this.#start,
      percent: plan.percent,
      note: 'As found when the records began',
    });
    return plan.racks.map((rack) => this.#rack(tankId, lamp, rack));
  }

  #rack(tankId: string, lamp: FarmLamp, plan: RackPlan): FarmRack {
    const id = this.#id();
    this.#rows.rack.push({
      id,
      tankId,
      lampId: lamp.id,
      name: plan.name,
      position: this.#rows.rack.filter((rack) => rack.tankId === tankId).length,
      rows: RACK_ROWS,
      columns: plan.columns,
      depthMm: plan.depthMm,
      leftMm: plan.place?.[0] ?? null,
      backMm: plan.place?.[1] ?? null,
      base: 'egg_crate',
      note: plan.note ?? '',
      createdAt: this.#start,
    });
    const rack: FarmRack = { id, plan, lamp, slots: this.#slots(id, plan), blocks: [] };
    rack.blocks = plan.kinds.map((kindCode, index) => ({ kindCode, rack, slots: blockSlots(rack, index) }));
    return rack;
  }

  #slots(rackId: string, { columns, flow, kinds }: RackPlan): FarmSlot[] {
    const slots: FarmSlot[] = [];
    for (let row = 1; row <= RACK_ROWS; row++) {
      for (let column = 1; column <= columns; column++) {
        const id = this.#id();
        const end = column === 1 || column === columns;
        // One jet stands against branching corals that bear it.
        const jet = row === 1 && column === 1 && kinds.includes('acropora-millepora');
        this.#rows.slot.push({ id, rackId, row, column, flow: flow[end ? 1 : 0], jet, base: 'egg_crate' });
        slots.push({ id, row, column });
      }
    }
    return slots;
  }

  #id(): string {
    return this.#world.id(this.#start);
  }
}

/** Columns are shared out evenly, one column left free between kinds. */
function blockSlots({ plan, slots }: FarmRack, index: number): FarmSlot[] {
  const count = plan.kinds.length;
  const width = Math.floor((plan.columns - (count - 1)) / count);
  const first = 1 + index * (width + 1);
  return slots
    .filter(({ column }) => column >= first && column < first + width)
    .sort((a, b) => a.row - b.row || a.column - b.column);
}

/** What every system keeps of each quantity, in canonical units. */
function keptQuantities() {
  const band = (
    quantityCode: string,
    bandLow: number | null,
    bandHigh: number,
    makeUp?: number,
    limitHigh?: number,
  ) => ({
    quantityCode,
    bandLow,
    bandHigh,
    makeUp: makeUp ?? null,
    limitHigh: limitHigh ?? null,
    source: 'The house rule of Farol Partido',
  });
  return [
    band('alkalinity', dkh(7), dkh(10), MAKE_UP.alkalinity),
    band('calcium', 360, 490, MAKE_UP.calcium),
    band('magnesium', 1150, 1450, MAKE_UP.magnesium),
    band('nitrate', 1, 25, MAKE_UP.nitrate, 30),
    band('phosphate', null, 0.2, MAKE_UP.phosphate, 0.3),
    band('salinity', 33.5, 36.5, 35),
    band('temperature', 24, 28),
    band('ph', 7.7, 8.5),
  ];
}

/** The new water of a change, in canonical units. */
export const MAKE_UP = {
  alkalinity: dkh(8.2),
  calcium: 425,
  magnesium: 1300,
  nitrate: 0.5,
  phosphate: 0.01,
} as const;
