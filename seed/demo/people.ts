/** Who works on the invented farm. Their passwords are printed by the demo command and exist nowhere else. */
export const demoPeople = [
  {
    name: 'Nela Orvalho',
    email: 'nela@farol-partido.example',
    role: 'hand',
    password: 'wet-hands-at-the-rack',
  },
  {
    name: 'Ravi Sandomil',
    email: 'ravi@farol-partido.example',
    role: 'manager',
    password: 'coffee-with-the-digest',
  },
  {
    name: 'Odile Marnoto',
    email: 'odile@farol-partido.example',
    role: 'owner',
    password: 'keys-to-the-pump-room',
  },
] as const;

export type DemoPerson = (typeof demoPeople)[number];
