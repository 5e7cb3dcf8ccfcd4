import type { ContactRole } from '../../generated/prisma/enums.ts';

/** Whom a farm may have to call, as lists name them, and what to keep in mind about each. */
export const contactRoles: Readonly<Record<ContactRole, { name: string; hint: string }>> = {
  ambulance: { name: 'Ambulance', hint: 'The emergency number of your country.' },
  fire_service: { name: 'Fire service', hint: 'Smoke, water on electrics, gas.' },
  poison_centre: { name: 'Poison centre', hint: 'Caustics, palytoxin, medicines.' },
  electrician: { name: 'Electrician', hint: 'A licensed one who knows the farm.' },
  plumber: { name: 'Plumber', hint: 'Stuck valves, burst lines.' },
  heating_engineer: { name: 'Heating and cooling engineer', hint: '' },
  power_supplier: { name: 'Power company', hint: 'The line for power cuts.' },
  water_supplier: { name: 'Water company', hint: 'Was there flushing or extra chlorine?' },
  landlord: { name: 'Landlord', hint: '' },
  vet: { name: 'Vet', hint: 'One who treats fish and corals.' },
  key_holder: { name: 'Second key holder', hint: 'Somebody who can be there before you.' },
  neighbour: { name: 'Farm nearby', hint: 'With spare water and room.' },
  other: { name: 'Somebody else', hint: '' },
};

export const contactRoleCodes = Object.keys(contactRoles) as [ContactRole, ...ContactRole[]];
