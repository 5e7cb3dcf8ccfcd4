import type { Locator, Page } from 'playwright-core';
import { boxOf } from '../../support/boxes.ts';

/** Human pace, seconds: one tap, one digit. Own choice, as a hand at a tablet was timed. */
const pace = { tap: 0.8, digit: 0.35 };

/** A hand on one page: every tap counts, and whether what it hit was in sight. */
export class Fingers {
  taps = 0;
  digits = 0;
  readonly hidden: string[] = [];
  readonly page: Page;

  constructor(page: Page) {
    this.page = page;
  }

  get seconds(): number {
    return this.taps * pace.tap + this.digits * pace.digit;
  }

  async tap(target: Locator): Promise<void> {
    const height = this.page.viewportSize()?.height ?? 0;
    let box = await boxOf(target);
    if (box.y < 0 || box.y + box.height > height) {
      this.hidden.push(`${new URL(this.page.url()).pathname}: ${(await target.textContent())?.trim()}`);
      await target.scrollIntoViewIfNeeded();
      box = await boxOf(target);
    }
    // Where it lies, whatever is over it: a tap beside an open sheet closes the sheet and counts.
    await this.page.touchscreen.tap(box.x + box.width / 2, box.y + box.height / 2);
    this.taps += 1;
  }

  /** A tap into a field, and what is typed there: keys are not counted. */
  async type(target: Locator, text: string): Promise<void> {
    await this.tap(target);
    await target.fill(text);
  }

  /** A tap that leads to another page. */
  async go(target: Locator): Promise<void> {
    const from = this.page.url();
    await this.tap(target);
    await this.page.waitForURL((url) => String(url) !== from);
  }
}
