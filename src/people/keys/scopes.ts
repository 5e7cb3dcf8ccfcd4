/** What an access key may be used for. A key may have several, and never more than the person who made it may do. */
export const keyScopes = [
  { code: 'readings', text: 'Post readings and doses', hint: 'Probes, controllers, dosers' },
  { code: 'read', text: 'Read everything', hint: 'Spreadsheets, dashboards' },
  { code: 'work', text: 'Enter daily work', hint: 'Water, rounds, alerts, emergencies' },
  { code: 'stock', text: 'Change the stock', hint: 'Lots, places, counts, photos' },
  { code: 'sales', text: 'Sell', hint: 'Orders, holds, sales, tags' },
  { code: 'farm', text: 'Change how the farm is set up', hint: 'Systems, tanks, racks, equipment' },
] as const;

/** The codes alone. */
export const scopeCodes = keyScopes.map(({ code }) => code) as [string, ...string[]];
