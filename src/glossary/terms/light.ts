import type { Term } from './term.ts';

/** Words about light. */
export const lightTerms: readonly Term[] = [
  {
    key: 'par',
    name: 'PAR',
    text: 'How much light of use to corals falls on a place at one moment, in µmol/(m² s): every photon from 400 to 700 nm counts the same. A PAR meter measures it. It says nothing about how long the lamps are lit.',
    otherwise:
      'Strictly the figure of a meter is called PPFD and PAR is the range of colours. Some meters count from 350 or to 750 nm, so two meters can differ under blue lamps.',
    source: 'Kirk, Light and Photosynthesis in Aquatic Ecosystems (400 to 700 nm).',
  },
  {
    key: 'mol-a-day',
    name: 'mol a day',
    text: 'All the light of one day on one square metre, in mol/(m² d). 100 PAR for 10 hours are 3.6. Two places with the same PAR but other hours of light differ in it.',
    otherwise: 'Plant growers call it DLI, daily light integral.',
    source: 'By definition: PAR times seconds of light, divided by 1,000,000.',
  },
  {
    key: 'immersion-factor',
    name: 'Immersion factor',
    text: 'A light sensor calibrated in air reads low under water. Its reading is multiplied by this factor, once. The factor belongs to the model of the sensor and is in its manual.',
    source: 'Zibordi, Hooker, Mueller & Lazin 2004, J. Atmos. Oceanic Technol. 21.',
  },
  {
    key: 'light-survey',
    name: 'Light survey',
    text: 'PAR measured at several slots of one rack on one day, with the setting of the lamps. Slots between are estimated. When lamps are turned the figures are scaled, and count as estimates until the next survey.',
  },
  {
    key: 'used-to',
    name: 'Used to',
    text: 'The daily light a lot has got used to: a mean of its past days in which the last days count most. A jump above it can bleach a coral even where its kind does well in that light.',
    otherwise:
      'How fast corals get used to light is not agreed. The pace here is common practice and can be changed for each kind.',
  },
  {
    key: 'acclimation',
    name: 'Acclimation',
    text: 'Bringing lots to other light in planned steps, each held for some days. The next step comes on the round when the lots are used to the last.',
    otherwise:
      'Many use the word for the first hours after arrival, when temperature and salinity are matched. Here that is part of taking in a lot.',
  },
];
