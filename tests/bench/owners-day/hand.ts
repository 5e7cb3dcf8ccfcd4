import type { Page } from 'playwright-core';

/** Human pace, seconds: one tap, with finding where; one key. Own choice, after watching people at a tablet. */
const pace = { tap: 1.3, key: 0.28 };

/** One part of the day: what was tapped and typed in it, and how long pages took. */
export interface Part {
  name: string;
  taps: number;
  keys: number;
  pageSeconds: number;
}

export const minutesOf = ({ taps, keys, pageSeconds }: Omit<Part, 'name'>): number =>
  (taps * pace.tap + keys * pace.key + pageSeconds) / 60;

/** An owner at the keyboard: does what is asked on the page, and counts. Nothing is slept. */
export class Hand {
  readonly parts: Part[] = [];
  readonly #page: Page;

  constructor(page: Page) {
    this.#page = page;
  }

  /** From here on everything counts for this part. */
  begin(name: string): void {
    this.parts.push({ name, taps: 0, keys: 0, pageSeconds: 0 });
  }

  get #part(): Part {
    const part = this.parts.at(-1);
    if (part === undefined) throw new Error('no part of the day has begun');
    return part;
  }

  /** Counts what is done outside the page. */
  count({ taps = 0, keys = 0, seconds = 0 }: { taps?: number; keys?: number; seconds?: number }): void {
    this.#part.taps += taps;
    this.#part.keys += keys;
    this.#part.pageSeconds += seconds;
  }

  /** Waits for a page that a tap led to. */
  async #load(act: () => Promise<unknown>): Promise<void> {
    const from = performance.now();
    await act();
    await this.#page.waitForLoadState('load');
    this.count({ taps: 1, seconds: (performance.now() - from) / 1000 });
    await this.#refuseErrors();
  }

  async #refuseErrors(): Promise<void> {
    const said = await this.#page.locator('.error-summary, [role=alert]').allTextContents();
    if (said.length > 0)
      throw new Error(`${this.#page.url()} refuses: ${said.join(' ').replace(/\s+/g, ' ')}`);
  }

  /** Opens a page by its place in the navigation or by a link that is at hand: one tap. */
  async open(path: string): Promise<void> {
    await this.#load(() => this.#page.goto(path));
  }

  /** Taps a link by its words. */
  async follow(name: string | RegExp): Promise<void> {
    const link = this.#page.getByRole('link', { name }).first();
    await this.#load(() => link.click());
  }

  /** Taps what leads to another page, by its CSS. */
  async tap(selector: string): Promise<void> {
    const from = this.#page.url();
    await this.#load(async () => {
      await this.#page.locator(selector).first().click();
      await this.#page.waitForURL((url) => String(url) !== from);
    });
  }

  /** Taps what sends something and stays. */
  async press(selector: string): Promise<void> {
    await this.#load(() =>
      Promise.all([
        this.#page.waitForResponse((answer) => answer.request().method() === 'POST'),
        this.#page.locator(selector).first().click(),
      ]),
    );
  }

  /** Taps a button that sends a form. */
  async send(name: string | RegExp): Promise<void> {
    const button = this.#page.getByRole('button', { name, exact: typeof name === 'string' }).first();
    const from = this.#page.url();
    await this.#load(async () => {
      await Promise.all([
        this.#page.waitForResponse((answer) => answer.request().method() === 'POST'),
        button.click(),
      ]);
      await this.#page.waitForLoadState('domcontentloaded');
    });
    if (process.env.TELL === '1') process.stdout.write(`  ${from} -> ${this.#page.url()}\n`);
  }

  /** Taps into a field and types, whatever stood there. */
  async type(field: string, text: string): Promise<void> {
    await this.#page.locator(`[name="${field}"]`).first().fill(text);
    this.count({ taps: 1, keys: text.length });
  }

  /** Chooses from a list: a tap that opens it, a tap on the choice. */
  async choose(field: string, label: string | RegExp): Promise<void> {
    const select = this.#page.locator(`select[name="${field}"]`);
    const texts = await select.locator('option').allTextContents();
    const text = texts.find((one) => (typeof label === 'string' ? one.trim() === label : label.test(one)));
    if (text === undefined) throw new Error(`${field} offers ${texts.join(', ')}, not ${label}`);
    await select.selectOption({ label: text.trim() });
    this.count({ taps: 2 });
  }

  /** Ticks a box or one of several choices, by its value where there are several. */
  async tick(field: string, value?: string): Promise<void> {
    const which = value === undefined ? '' : `[value="${value}"]`;
    await this.#page.locator(`input[name="${field}"]${which}`).first().check();
    this.count({ taps: 1 });
  }

  /** Chooses a file: the button, the file, "Open". */
  async bring(field: string, name: string, content: string): Promise<void> {
    const file = { name, mimeType: 'text/csv', buffer: Buffer.from(content) };
    await this.#page.locator(`input[name="${field}"]`).setInputFiles(file);
    this.count({ taps: 3 });
  }
}
