import type { Term } from './term.ts';

/** Words about stock, places and sales. */
export const stockTerms: readonly Term[] = [
  {
    key: 'lot',
    name: 'Lot',
    text: 'Pieces of one origin kept together under one code. They share kind, origin, papers and place. Cutting or splitting makes a new lot.',
    otherwise: 'On a test kit the lot number is the batch of its maker.',
  },
  {
    key: 'piece',
    name: 'Piece',
    text: 'One coral on one mount: what is counted and sold.',
    otherwise: 'Also called a frag or a plug.',
  },
  {
    key: 'mother',
    name: 'Mother',
    text: 'A lot kept for cutting from. It is not offered for sale.',
    otherwise: 'Also called mother colony, brood stock or parent.',
  },
  {
    key: 'kind',
    name: 'Type of coral',
    text: 'What a lot is kept as. Its care figures come from here: light, flow, reach, how large it is sold. It need not be the scientific name.',
  },
  {
    key: 'identification',
    name: 'Identification: cf., aff., sp.',
    text: 'Who says which species it is, when, and how surely. cf.: looks like it, to be compared. aff.: close to it, but another. sp.: only the genus is known.',
    source: 'Darwin Core: identificationQualifier, identifiedBy, dateIdentified.',
  },
  {
    key: 'slot',
    name: 'Rack and slot',
    text: 'A rack is a shelf or a stretch of rockwork drawn as a grid. A slot is one cell of it: rows have letters from the back, columns numbers from the left, so A1 is the back left corner.',
  },
  {
    key: 'reach',
    name: 'Reach',
    text: 'How far a coral can sting a neighbour, mostly with long tentacles at night. Two lots are too near when the water between them is less than the longer of their reaches.',
    otherwise:
      'Published reaches differ; those here are in the care figures of each type and can be changed.',
  },
  {
    key: 'flow',
    name: 'Flow and jet',
    text: 'Flow is how water moves at a slot, by eye: still, low, medium, high. A jet is a steady stream from one side that hits the flesh; few corals stand it, however weak it is.',
  },
  {
    key: 'look',
    name: 'Check',
    text: 'Somebody saw the lot and noted how it is. A rack passed as well counts as a check of every lot on it that was well before.',
  },
  {
    key: 'quarantine',
    name: 'Quarantine',
    text: 'Lots from elsewhere wait in a tank with water, tools and nets of its own before they join the others. How long is in the care figures of each type.',
    otherwise: 'Two to eight weeks are usual; nobody agrees on one figure.',
  },
  {
    key: 'hold',
    name: 'Held',
    text: 'Pieces kept back for one buyer until a day. They count as stock but cannot be sold to others. After that day they are free again by themselves.',
  },
  {
    key: 'whiteness',
    name: 'Whiteness',
    text: 'How white a lot is in a photograph of its rack, from 0 for black to 100 for the white of the corner cards (L* of CIELAB). It compares a lot with itself in other photographs: what all lots of the rack share, as another lamp, is taken out. It says nothing of health by itself.',
    otherwise:
      'Others reckon pigment or algae in the flesh from such photographs. One photograph is good to about a factor of three there, so none is said here.',
  },
  {
    key: 'ready',
    name: 'Ready to sell',
    text: 'Large enough, healed, well at its last check, out of quarantine and not a mother. The list says of every other lot what it waits for.',
  },
  {
    key: 'tag',
    name: 'Tag',
    text: 'A care record of sold pieces, frozen and signed on the day it was issued. The buyer scans its code and sees what the piece lived in and how to start it.',
  },
];
