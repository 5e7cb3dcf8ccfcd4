/** Routes that read much and write nothing: a replica answers them, where one is set. Public tags, charts, exports. */
export const readRoutes: readonly string[] = [
  'GET /t/:token',
  'GET /t/:token/sheet',
  'GET /t/:token/picture',
  'GET /t/:token/plan.ics',
  'GET /t/:token/record',
  'GET /water/systems/:id',
  'GET /api/systems/:id/series',
  'GET /export/:list.csv',
  'GET /water/systems/:id/readings.csv',
  'GET /water/systems/:id/water-changes.csv',
  'GET /water/systems/:id/doses.csv',
  'GET /water/systems/:id/feedings.csv',
];
