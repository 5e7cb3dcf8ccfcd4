/** What is asked of a lot before its lightening is told, where a farm sets nothing else (own choices, tuned by `npm run bench:whiteness`). */
export const LIGHTENING = { sure: 2, share: 0.05 };
/** The same of what a rack shares: how sure, and L* at the least. */
export const SHIFTED = { sure: 3, least: 2 };
