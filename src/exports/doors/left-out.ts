/** Writes of pages that are no operation under the door, each with the reason; `route` is as it is registered. */
export const leftOut: readonly { route: RegExp; reason: string }[] = [
  {
    route: /^POST \/(welcome|sign-in|sign-out|forgotten)$/,
    reason: 'It is asked by nobody who is known yet, or ends a session: a program has a key and no session.',
  },
  {
    route: /^POST \/(password|address)\/:token$/,
    reason: 'It is opened by a letter, to whoever reads that letter.',
  },
  {
    route: /^POST \/digest\/receivers\/:id\/end$/,
    reason: 'It is opened by a letter, to whoever reads that letter.',
  },
  {
    route: /^POST \/tablet\/:id$/,
    reason: 'It signs a person in with a PIN at an enrolled tablet.',
  },
  {
    route: /^POST \/account\/sign-out$/,
    reason: 'It ends a person’s sessions; a program’s key is ended under Access keys.',
  },
  {
    route: /^POST \/undo\/:id$/,
    reason:
      'It is offered to the person who saved a form, for ten minutes; a program keeps what it read, and writes that.',
  },
  {
    route: /^POST \/sites\/:id\/look$/,
    reason: 'It chooses the site that a person looks at; a key belongs to the site it was made at.',
  },
  {
    route: /^POST \/rounds\/:id\/entries$/,
    reason: 'The tablet’s own route for programs answers at this address.',
  },
];

/** Why a route is no operation under the door; null where it is one. */
export const reasonLeftOut = (route: string): string | null =>
  leftOut.find((one) => one.route.test(route))?.reason ?? null;
