import type { Term } from './term.ts';

/** Words about water and what is done to it. */
export const waterTerms: readonly Term[] = [
  {
    key: 'system',
    name: 'System',
    text: 'One body of shared water with all its tanks and its sump. What is tested in one tank counts for all of them.',
  },
  {
    key: 'net-volume',
    name: 'Net volume',
    text: 'The water itself: tanks and sump together, less rock, sand and equipment. Every dose is worked out from it, so a volume 20 % too large makes every dose 20 % too strong.',
  },
  {
    key: 'dkh',
    name: 'dKH',
    text: 'The usual unit of alkalinity: how much acid the water can take up. 2.8 dKH are 1 meq/L, or about 50 mg/L as calcium carbonate.',
    otherwise:
      'Kits say KH or “carbonate hardness”, laboratories total alkalinity. In salt water they measure nearly the same; borate is counted in all of them.',
    source: 'By definition 1 dKH is 10 mg/L of calcium oxide (German degrees of hardness).',
  },
  {
    key: 'salinity',
    name: 'Salinity: PSU, SG, ppt',
    text: 'How salty the water is. PSU comes from conductivity; ppt (grams in a kilogram) is nearly the same number. The sea has about 35.',
    otherwise:
      'SG, specific gravity, compares the weight of the water with that of fresh water, and depends on both temperatures: 35 PSU is about 1.0264 at 25/25 °C, 1.0266 at 20/20 °C. An SG without its temperatures can be 1 PSU off.',
    source:
      'Practical salinity: UNESCO Technical Papers in Marine Science 44 (1983); g/kg: Millero et al. 2008.',
  },
  {
    key: 'nitrate-forms',
    name: 'As NO₃, as N',
    text: 'Nitrate can be given as nitrate (NO₃) or as the nitrogen in it (N): 1 mg/L as N is 4.43 mg/L as NO₃. Phosphate in the same way: 1 mg/L as P is 3.07 mg/L as PO₄.',
    otherwise: 'Hobby kits mostly give NO₃ and PO₄, laboratories often N and P. Look at the leaflet.',
    source: 'IUPAC atomic weights 2021.',
  },
  {
    key: 'make-up-water',
    name: 'Make-up water',
    text: 'The fresh salt water that a water change brings in. What it holds counts: a change can raise a level as well as lower it.',
    otherwise:
      'Some say make-up water for the fresh water that replaces what evaporates. Here that is top-up.',
  },
  {
    key: 'band',
    name: 'Target band',
    otherwise:
      'Also called target range. Published ranges differ a lot, nitrate a hundredfold. What suits your stock is your choice.',
    text: 'The range in which you keep a quantity in this system. Outside it an alert opens, once the tests are sure enough.',
  },
  {
    key: 'starting-band',
    name: 'Starting band',
    text: 'A target band that a new system begins with, from natural seawater and good practice. You have not chosen it, so alerts about it stay mild until you confirm it or enter your own.',
  },
  {
    key: 'usual-band',
    name: 'Usual band',
    text: 'Where nine of ten tests of this water lay before. It is not a target: water can be steady outside its target band, and unsteady inside it.',
  },
  {
    key: 'use',
    name: 'Use a day',
    text: 'How much of something the stock takes up in a day, worked out from tests with doses and water changes taken out. It needs the doses to be logged.',
    otherwise: 'Also called demand, consumption or uptake.',
  },
  {
    key: 'production',
    name: 'Made a day',
    text: 'How much nitrate or phosphate food and waste add in a day, less what skimmer, filter and stock take out. Water changes are counted apart.',
  },
  {
    key: 'correction',
    name: 'Correction',
    text: 'A level brought to its target in small daily steps, with tests between. It starts only from a confirmed test, and a step is held back when the tests do not do what was expected.',
  },
  {
    key: 'limewater',
    name: 'Limewater',
    text: 'A saturated solution of calcium hydroxide. It brings calcium and alkalinity, and lifts the pH strongly. It is caustic: gloves and eye protection.',
    otherwise: 'Also called kalkwasser.',
  },
  {
    key: 'saturation',
    name: 'Aragonite saturation',
    text: 'How ready calcium carbonate is to form, from calcium, alkalinity, pH and salinity together. Below 1 bare skeleton dissolves; well above 5 it can drop out on heaters and pumps.',
    source: 'Dickson, Sabine & Christian 2007; Moras et al. 2022, Biogeosciences 19.',
  },
  {
    key: 'un-ionised-ammonia',
    name: 'Un-ionised ammonia',
    text: 'The part of ammonia that poisons. It grows with the pH: at 8.2 it is about seven times what it is at 7.3.',
    otherwise: 'Kits show total ammonia (ammonia and ammonium together), some as N and some as NH₃ or NH₄.',
    source: 'Clegg & Whitfield 1995, Geochim. Cosmochim. Acta 59, 2403.',
  },
  {
    key: 'heating-weeks',
    name: 'Degree heating weeks',
    text: 'How far and how long the water was too warm over twelve weeks, added up. From 4 bleaching is usual on reefs, from 8 many corals die.',
    source: 'NOAA Coral Reef Watch; Skirving et al. 2020, Remote Sensing 12, 3856.',
  },
];
