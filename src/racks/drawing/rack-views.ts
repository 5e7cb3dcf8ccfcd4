/** What the drawing of a rack can show. */
export const rackViews = ['light', 'daily', 'flow', 'condition', 'age', 'kind'] as const;
export type RackView = (typeof rackViews)[number];

/** The views in the words people choose them by. */
export const rackViewWords: Readonly<Record<RackView, string>> = {
  light: 'Light',
  daily: 'Daily light',
  flow: 'Flow',
  condition: 'Condition',
  age: 'Age',
  kind: 'Kind',
};
