import type { Prisma } from '../../src/generated/prisma/client.ts';
import type { DemoPerson } from './people.ts';

/** A row whose key into the library is still a name: the library's keys are the database's own. */
type Named<Row, Key extends keyof Row, Name extends string> = Omit<Row, Key> & Record<Name, string>;

type Account = Omit<Prisma.AccountCreateManyInput, 'passwordHash'> & {
  id: string;
  password: DemoPerson['password'];
};
type Lot = Named<Prisma.LotCreateManyInput, 'kindId', 'kindCode'> & { id: string };
type Kit = Named<Prisma.KitCreateManyInput, 'methodId', 'methodName'> & { id: string; quantityCode: string };
type Reading = Named<Prisma.ReadingCreateManyInput, 'methodId', 'methodName'> & { id: string; at: Date };
type Whole<Row> = Row & { id: string };

/** The demo farm, table by table, in the order in which the rows can be written. */
export interface DemoTables {
  site: Whole<Prisma.SiteCreateManyInput>[];
  account: Account[];
  system: Whole<Prisma.SystemCreateManyInput>[];
  systemQuantity: Prisma.SystemQuantityCreateManyInput[];
  tank: Whole<Prisma.TankCreateManyInput>[];
  room: Whole<Prisma.RoomCreateManyInput>[];
  tankPlace: Prisma.TankPlaceCreateManyInput[];
  lamp: Whole<Prisma.LampCreateManyInput>[];
  lampSetting: Whole<Prisma.LampSettingCreateManyInput>[];
  rack: Whole<Prisma.RackCreateManyInput>[];
  slot: Whole<Prisma.SlotCreateManyInput>[];
  lightSurvey: Whole<Prisma.LightSurveyCreateManyInput>[];
  lightSurveyPoint: Prisma.LightSurveyPointCreateManyInput[];
  slotLight: Prisma.SlotLightCreateManyInput[];
  lot: Lot[];
  identification: Whole<Prisma.IdentificationCreateManyInput>[];
  cut: (Whole<Prisma.CutCreateManyInput> & { at: Date })[];
  ledgerEntry: (Whole<Prisma.LedgerEntryCreateManyInput> & { at: Date })[];
  healingLook: Whole<Prisma.HealingLookCreateManyInput>[];
  sizeMeasurement: Whole<Prisma.SizeMeasurementCreateManyInput>[];
  placement: (Whole<Prisma.PlacementCreateManyInput> & { fromAt: Date; toAt: Date | null })[];
  placementSlot: Prisma.PlacementSlotCreateManyInput[];
  condition: (Whole<Prisma.ConditionCreateManyInput> & { at: Date })[];
  kit: Kit[];
  checkReading: Whole<Prisma.CheckReadingCreateManyInput>[];
  reading: Reading[];
  waterChange: (Whole<Prisma.WaterChangeCreateManyInput> & { at: Date })[];
  dose: (Whole<Prisma.DoseCreateManyInput> & { at: Date })[];
  feeding: (Whole<Prisma.FeedingCreateManyInput> & { at: Date })[];
  circuit: Whole<Prisma.CircuitCreateManyInput>[];
  equipment: Whole<Prisma.EquipmentCreateManyInput>[];
  upkeep: Whole<Prisma.UpkeepCreateManyInput>[];
  containerLevel: Whole<Prisma.ContainerLevelCreateManyInput>[];
  doserCalibration: Whole<Prisma.DoserCalibrationCreateManyInput>[];
  doserPlan: Whole<Prisma.DoserPlanCreateManyInput>[];
  fault: Whole<Prisma.FaultCreateManyInput>[];
  contact: Whole<Prisma.ContactCreateManyInput>[];
  switchedOff: Whole<Prisma.SwitchedOffCreateManyInput>[];
  routine: Whole<Prisma.RoutineCreateManyInput>[];
  roundPlan: Whole<Prisma.RoundPlanCreateManyInput>[];
  roundPlanTank: Prisma.RoundPlanTankCreateManyInput[];
  round: Whole<Prisma.RoundCreateManyInput>[];
  roundEntry: (Prisma.RoundEntryCreateManyInput & { at: Date })[];
  journalLine: Prisma.JournalLineCreateManyInput[];
}

/** A farm with every table empty. */
export function noRows(): DemoTables {
  return {
    site: [],
    account: [],
    system: [],
    systemQuantity: [],
    tank: [],
    room: [],
    tankPlace: [],
    lamp: [],
    lampSetting: [],
    rack: [],
    slot: [],
    lightSurvey: [],
    lightSurveyPoint: [],
    slotLight: [],
    lot: [],
    identification: [],
    cut: [],
    ledgerEntry: [],
    healingLook: [],
    sizeMeasurement: [],
    placement: [],
    placementSlot: [],
    condition: [],
    kit: [],
    checkReading: [],
    reading: [],
    waterChange: [],
    dose: [],
    feeding: [],
    circuit: [],
    equipment: [],
    upkeep: [],
    containerLevel: [],
    doserCalibration: [],
    doserPlan: [],
    fault: [],
    contact: [],
    switchedOff: [],
    routine: [],
    roundPlan: [],
    roundPlanTank: [],
    round: [],
    roundEntry: [],
    journalLine: [],
  };
}
