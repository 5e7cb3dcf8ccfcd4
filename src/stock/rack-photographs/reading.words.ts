import type { Corner } from '../../science/photograph/card.ts';
import type { NotRead } from '../../science/photograph/reading/reasons.ts';
import type { LeftOut } from '../../science/photograph/straight-rack.ts';

/** A rack's corners as somebody says them who stands in front of it. */
export const cornerWords: Readonly<Record<Corner, string>> = {
  'back-left': 'back left',
  'back-right': 'back right',
  'front-left': 'front left',
  'front-right': 'front right',
};

const atCorners = (corners: readonly Corner[]) => corners.map((corner) => cornerWords[corner]).join(', ');

const plain = {
  'no cards':
    'No corner card was found in it. Print the rack’s cards, fix them at its corners, and have all four in the picture, sharp and from near enough.',
  blurred: 'It is blurred. Hold still, wait until it is sharp, and take it again.',
  dark: 'It is too dark. Turn the lamps up, or on white light, and take it again.',
  blue: 'The light is too blue to tell colours. Turn the lamps to white light, and take it again.',
  waves: 'The water moves what is seen. Switch the pumps off until the surface is still, and take it again.',
  tilted: 'It was taken too much from the side. Hold the camera straight above the rack’s middle.',
  lens: 'The lens bends the picture too much. Take it without the wide-angle lens, from farther away.',
  bright:
    'It is too bright: the white of the cards is at the top of what the camera can tell. Make the picture darker, and take it again.',
  small: 'The rack is too small in it. Go nearer, so that the cards nearly touch the picture’s edges.',
  askew:
    'The cards do not lie where they should. See that each is at its own corner, flat, and touches the rack.',
  patches: 'The white, grey and black of the cards do not fit together. Wipe the cards, or print new ones.',
} as const;

/** Why a photograph was not read, and what to do. */
export function notReadWords(reason: NotRead): string {
  switch (reason.why) {
    case 'missing':
      return `The card was not found at: ${atCorners(reason.corners)}. All four must be in the picture, whole and wiped clean.`;
    case 'outside':
      return `The card reaches beyond the picture’s edge at: ${atCorners(reason.corners)}. Hold the camera above the rack’s middle, with all four cards in the picture.`;
    case 'covered':
      return `The card is seen but cannot be read at: ${atCorners(reason.corners)}. Something covers it, it is soiled, or the picture is not sharp or not near enough: free it, wipe it, hold still, and take the photograph again.`;
    case 'unread':
      return 'Cards are in it, but no code of them could be read. Wipe them, go nearer, wait until it is sharp, and take it again.';
    case 'swapped':
      return `Cards lie at each other’s corners: ${atCorners(reason.corners)}. Each card says its own corner: fix it there.`;
    case 'mixed':
      return `The card of another rack lies at: ${atCorners(reason.corners)}. Fix this rack’s own card there.`;
    case 'glare':
      return `Light is thrown back from the card at: ${atCorners(reason.corners)}. Change where you stand, or make the picture darker.`;
    case 'twice':
      return `The same card is in it twice: ${atCorners(reason.corners)}. One rack, one photograph.`;
    case 'other rack':
      return 'It shows the cards of another rack. Take it to that rack’s page.';
    default:
      return plain[reason.why];
  }
}

/** Why a lot was not measured. */
export const leftOutWords: Readonly<Record<LeftOut, string>> = {
  glare: 'light is thrown back from it',
  'not told from the base': 'it was not told from the base',
  'beyond the picture': 'it reaches beyond the rack',
};
