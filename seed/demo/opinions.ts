import type { Farm } from './farm.ts';
import type { DemoTables } from './rows.ts';
import type { LiveLot } from './stock-book.ts';
import type { World } from './world.ts';

/** What the farm's people are unsure of, and what they have renamed: identifications beyond the first. */
export function noteOpinions(world: World, farm: Farm, lots: readonly LiveLot[], rows: DemoTables): void {
  doubt(lots, rows);
  rename(world, farm, lots, rows);
}

/** One closed brain coral that nobody would swear to. */
function doubt(lots: readonly LiveLot[], rows: DemoTables): void {
  const unsure = lots.find(({ kind, isMother }) => kind.code === 'dipsastraea-speciosa' && !isMother);
  const opinion = rows.identification.find(({ lotId }) => lotId === unsure?.id);
  if (!opinion) return;
  opinion.identificationQualifier = 'cf.';
  opinion.identificationRemarks = 'Corallites smaller than usual; no skeleton was seen';
}

/** A mother that came under an older name and was renamed later: both opinions stand. */
function rename(world: World, farm: Farm, lots: readonly LiveLot[], rows: DemoTables): void {
  const renamed = lots.find(({ kind, isMother }) => kind.code === 'micromussa-lordhowensis' && isMother);
  const first = rows.identification.find(({ lotId }) => lotId === renamed?.id);
  if (!renamed || !first) return;
  first.scientificName = 'Acanthastrea lordhowensis';
  first.identificationRemarks = "The supplier's name";
  const at = world.at(48, 15.25);
  rows.identification.push({
    id: world.id(at),
    lotId: renamed.id,
    scientificName: renamed.kind.name,
    identificationQualifier: '',
    identifiedBy: 'Ravi Sandomil',
    dateIdentified: world.date(48),
    identificationRemarks: 'Accepted name; older books say Acanthastrea',
    accountId: farm.people.manager,
    createdAt: at,
  });
}
