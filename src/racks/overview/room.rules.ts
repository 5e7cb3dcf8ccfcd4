import { lightTone } from '../drawing/light-tones.rules.ts';
import type { MiniatureCell } from '../drawing/miniature.ts';
import type { RoomSlot } from './overview.rules.ts';

/** What the drawing of the farm shows: light and alerts, free slots, or what is ready to be sold. */
export const ROOM_VIEWS = ['light', 'free', 'ready'] as const;
export type RoomView = (typeof ROOM_VIEWS)[number];

export const roomViewWords: Readonly<Record<RoomView, string>> = {
  light: 'Light and alerts',
  free: 'Free slots',
  ready: 'Ready to sell',
};

/** A slot as a view shows it: the light as its ground; a square for what the view is about, a ring for any other lot. */
export function roomCell(slot: RoomSlot, view: RoomView, ready: ReadonlySet<string>): MiniatureCell {
  const { row, column, par, lotId, severity } = slot;
  const tone = lightTone(par);
  if (view === 'free') return { row, column, tone, dot: lotId === null ? 'free' : null };
  if (lotId === null) return { row, column, tone, dot: null };
  if (view === 'ready') return { row, column, tone, dot: ready.has(lotId) ? '' : 'other' };
  return { row, column, tone, dot: severity === 'watch' ? '' : (severity ?? '') };
}
