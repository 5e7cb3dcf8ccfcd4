import type { Corner } from '../card.ts';

/** Why a photograph is not read. */
export type NotRead =
  | {
      why:
        | 'no cards'
        | 'blurred'
        | 'dark'
        | 'blue'
        | 'bright'
        | 'waves'
        | 'tilted'
        | 'lens'
        | 'small'
        | 'askew'
        | 'patches';
    }
  | {
      why: 'missing' | 'outside' | 'covered' | 'glare' | 'unread' | 'twice' | 'swapped' | 'mixed';
      corners: Corner[];
    }
  | { why: 'other rack'; rackId: string };

/**
 * The limits of what is read (own choices, tried by synthetic photographs): how much of a frame's side is seen, residuals of the
 * 16 corners and of a frame's sides in mm, blur in mm, tilt in degrees, px a mm, the lens's change of radius at the picture's
 * corner, white in linear light, red of the white against its blue.
 */
export const LIMITS = {
  seen: 0.6,
  residual: 1.3,
  bent: 0.3,
  blur: 0.75,
  tilt: 25,
  scale: 1.7,
  lens: 0.12,
  dark: 0.05,
  blue: 0.1,
  clipped: 0.1,
  patchSpread: 0.12,
};
