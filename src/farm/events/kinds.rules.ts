import type { EventKind } from '../../generated/prisma/client.ts';

/** What changes a water's habits, as buttons and charts say it. */
export const eventKinds: Readonly<Record<EventKind, string>> = {
  power_cut: 'Power cut',
  media_changed: 'Media changed',
  reactor_started: 'Reactor started',
  reactor_stopped: 'Reactor stopped',
  mass_loss: 'Many animals lost',
  stock_sold: 'A third of the stock or more sold',
  new_additive: 'New additive',
  new_salt: 'New salt',
};

export const eventCodes = Object.keys(eventKinds) as [EventKind, ...EventKind[]];
