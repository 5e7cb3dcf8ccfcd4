import type { Random } from '../../src/science/statistics/random.ts';
import type { Farm, FarmRack, FarmSlot } from './farm.ts';
import { interpolate } from './interpolate.ts';
import { RACK_ROWS } from './layout.ts';
import { BRIGHT_DAYS, BRIGHT_TO } from './planted.ts';
import type { DemoTables } from './rows.ts';
import { DAYS, type World } from './world.ts';

/** The meter's immersion factor: 1.25 for one family of sensors by its maker's manual. */
const IMMERSION = 1.25;
const METER = 'Quantum meter, underwater sensor';
const METER_ERROR = 0.02;
const SURVEY_DAYS = [4, 122];

/** The light over one rack: the true field while its lamps stand as planned, and what the last survey gives. */
export interface RackLight {
  rack: FarmRack;
  truePar: Map<string, number>;
  surveyedPar: Map<string, number>;
  percentAt(day: number): number;
}

/** Measures the light over every rack twice, and turns the lamps over the bright rack up. */
export function lightTheFarm(world: World, farm: Farm, rows: DemoTables): RackLight[] {
  const random = world.random('light');
  const racks = farm.systems.flatMap((system) => system.tanks.flatMap((tank) => tank.racks));
  turnUp(world, farm, racks, rows);
  return racks.map((rack, index) => {
    const truePar = lampField(rack, random);
    let surveyedPar = new Map<string, number>();
    for (const day of SURVEY_DAYS) {
      surveyedPar = survey({ world, rows, random, farm, rack, truePar, day: day + (index % 6) });
    }
    const { percent } = rack.lamp.plan;
    const percentAt = (day: number) => (rack.plan.bright && day >= DAYS - BRIGHT_DAYS ? BRIGHT_TO : percent);
    return { rack, truePar, surveyedPar, percentAt };
  });
}

function turnUp(world: World, farm: Farm, racks: FarmRack[], rows: DemoTables): void {
  const bright = racks.find(({ plan }) => plan.bright);
  if (!bright) return;
  const at = world.at(DAYS - BRIGHT_DAYS, 12);
  rows.lampSetting.push({
    id: world.id(at),
    lampId: bright.lamp.id,
    at,
    percent: BRIGHT_TO,
    note: 'Turned up for photographs',
    accountId: farm.people.manager,
  });
}

/** Light falls off smoothly from a bright middle that does not stand quite in the middle of the rack. */
function lampField({ plan, slots }: FarmRack, random: Random): Map<string, number> {
  const middle = {
    row: (RACK_ROWS + 1) / 2 + 0.4 * random.normal(),
    column: (plan.columns + 1) / 2 + 1.2 * random.normal(),
  };
  const par = ({ row, column }: FarmSlot) => {
    const away = ((row - middle.row) / 4.5) ** 2 + ((column - middle.column) / 9) ** 2;
    return plan.par * (0.82 + 0.28 * Math.exp(-away));
  };
  return new Map(slots.map((slot) => [slot.id, par(slot)]));
}

interface Survey {
  world: World;
  rows: DemoTables;
  random: Random;
  farm: Farm;
  rack: FarmRack;
  truePar: Map<string, number>;
  day: number;
}

/** Reads about fifteen slots spread over the rack, and notes the light at all of them. */
function survey({ world, rows, random, farm, rack, truePar, day }: Survey): Map<string, number> {
  const at = world.at(day, 14.5 + random.below(60) / 60);
  const id = world.id(at);
  rows.lightSurvey.push({
    id,
    rackId: rack.id,
    measuredAt: at,
    meter: METER,
    immersionFactor: IMMERSION,
    factorInMeter: false,
    lampPercent: rack.lamp.plan.percent,
    accountId: farm.people.hand,
    createdAt: at,
  });
  const points = rack.slots.filter(isMeasured).map((slot) => {
    const raw = Math.round(((truePar.get(slot.id) ?? 0) * (1 + METER_ERROR * random.normal())) / IMMERSION);
    return { slot, raw, par: raw * IMMERSION };
  });
  for (const { slot, raw, par } of points) {
    rows.lightSurveyPoint.push({ surveyId: id, slotId: slot.id, raw, par });
  }
  return noteLight(id, rack, points, rows);
}

const isMeasured = ({ row, column }: FarmSlot) => row % 2 === 1 && column % 3 === (row === 3 ? 0 : 1);

function noteLight(
  surveyId: string,
  { slots }: FarmRack,
  points: { slot: FarmSlot; par: number }[],
  rows: DemoTables,
): Map<string, number> {
  const light = interpolate(points, slots);
  slots.forEach((slot, index) => {
    const { par, error, measured } = light[index] ?? { par: 0, error: 0, measured: false };
    rows.slotLight.push({ surveyId, slotId: slot.id, par, error, measured });
  });
  return new Map(slots.map((slot, index) => [slot.id, light[index]?.par ?? 0]));
}
