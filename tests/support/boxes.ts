import type { Locator } from 'playwright-core';

/** Where something lies on the page, CSS px from the upper left corner of what is in sight. */
export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/**
 * Waits until something is shown, then measures it: a script may draw it after the page has loaded, and draw it anew
 * while it is measured.
 * @throws Error when it is not shown within the page's time limit
 */
export async function boxOf(locator: Locator): Promise<Box> {
  for (let tries = 0; tries < 5; tries++) {
    await locator.waitFor();
    const box = await locator.boundingBox();
    if (box !== null) return box;
  }
  throw new Error(`${locator} is not shown for long enough to be measured`);
}
