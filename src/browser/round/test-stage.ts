import { canonicalUnit, convert, convertDifference, isQuantityCode } from '../../science/units.ts';
import { plainNumber, typedSurprises } from './reading-check.ts';
import { type ChartSeries, chartMarkup } from './test-chart.ts';

/** Shows the tests of a system one at a time: the last results, the number, a pad that keeps its place. */
export class TestStage {
  /** The test that is shown, on the page of which system. */
  #shown: { path: string; code: string } | null = null;
  /** The number for which a doubt is shown: saved when it is asked for again. */
  #doubted = '';
  /** Since when it is shown, ms of `performance.now()`. */
  #doubtedAt = 0;
  #settle: ReturnType<typeof setTimeout> | undefined;
  readonly #leave: (path: string) => void;

  /** The quantity whose test is shown next, as a link or the address names it; '' for the first that is not done. */
  wanted = /^#test-(.+)$/.exec(location.hash)?.[1] ?? '';

  /** `leave` goes to another page of the round. */
  constructor(leave: (path: string) => void) {
    this.#leave = leave;
    document.addEventListener('input', ({ target }) => this.#changed(target as HTMLElement));
    document.addEventListener('click', (event) => this.#click(event));
    document.addEventListener('keydown', (event) => this.#key(event));
    addEventListener('resize', () => this.#draw(false));
  }

  /** Puts a page of tests on the stage, after it was drawn; does nothing on other pages. */
  set(): void {
    const stage = stageHere();
    if (stage === null) return;
    const rows = rowsOf(stage);
    const same = this.#shown?.path === location.pathname ? this.#shown.code : null;
    const { wanted } = this;
    this.wanted = '';
    const current =
      rows.find((row) => row.dataset.test === wanted) ??
      rows.find((row) => row.dataset.test === same) ??
      rows.find((row) => !isDone(row)) ??
      rows[0];
    if (current !== undefined) this.#show(stage, current);
  }

  /**
   * Whether a reading may be written down. A number that surprises and for which "Test again" was not shown yet shows it
   * first; the next tap writes, once there was time to see what is asked. `again`: "Test again" was tapped.
   */
  allows(form: HTMLFormElement, again: boolean): boolean {
    if (form.closest('.test-stage') === null) return true;
    const number = keyOf(form);
    if (again || !typedSurprises(form)) return true;
    if (number !== this.#doubted) this.#doubt(form, true);
    else if (performance.now() - this.#doubtedAt >= seen) return true;
    return false;
  }

  /** After a reading was written down: stays for a second test, or goes to the next; from the last to the next rack, or back to the system where more is due. */
  next(form: HTMLFormElement, again: boolean): void {
    const stage = form.closest<HTMLElement>('.test-stage');
    const row = form.closest<HTMLElement>('[data-test]');
    if (stage === null || row === null) return;
    this.#doubted = '';
    if (again) return;
    row.classList.add('done');
    this.#goOn(stage, row);
  }

  #goOn(stage: HTMLElement, row: HTMLElement): void {
    const next = openAfter(stage, row);
    if (next !== undefined) this.#shown = { path: location.pathname, code: next.dataset.test ?? '' };
    else {
      this.#shown = null;
      this.#leave(onwardFrom(stage)?.pathname ?? stage.dataset.stage ?? '/rounds');
    }
  }

  #show(stage: HTMLElement, row: HTMLElement): void {
    this.#shown = { path: location.pathname, code: row.dataset.test ?? '' };
    stage.classList.add('one');
    for (const other of rowsOf(stage)) {
      other.classList.toggle('current', other === row);
      if (other !== row) other.querySelector('.pad')?.remove();
    }
    rowsOf(stage).forEach((each, i) => {
      const box = document.querySelectorAll('.test-steps > i')[i];
      box?.classList.toggle('current', each === row);
      box?.classList.toggle('done', isDone(each));
    });
    const keys = row.querySelector('.test-keys');
    const pad = document.querySelector<HTMLTemplateElement>('template#pad');
    if (keys !== null && pad !== null && keys.querySelector('.pad') === null)
      keys.prepend(pad.content.cloneNode(true));
    const next = openAfter(stage, row);
    const save = row.querySelector('[data-note]');
    if (save !== null)
      save.textContent =
        next === undefined ? endWords(stage) : `Save, next: ${inSentence(next.dataset.name ?? '')}`;
    const input = inputOf(row);
    if (input !== null) {
      input.inputMode = 'none';
      input.focus({ preventScroll: true });
    }
    this.#draw(false);
  }

  #current(): HTMLElement | null {
    return document.querySelector<HTMLElement>('.test-stage > .current');
  }

  #changed(target: HTMLElement): void {
    const row = target.closest<HTMLElement>('.test-stage > .current');
    if (row === null) return;
    if (target.matches('[name="sure"]')) return;
    if (target.matches('select')) sayWith(row);
    unask(formOf(row));
    this.#doubted = '';
    this.#doubt(formOf(row), false);
    this.#draw(false);
    clearTimeout(this.#settle);
    this.#settle = setTimeout(() => this.#judge(row), pause);
  }

  /** Judges the number once the hand rests, so that nothing flashes at each digit. */
  #judge(row: HTMLElement): void {
    if (!row.isConnected || row !== this.#current() || inputOf(row)?.value === '') return;
    if (typedSurprises(formOf(row))) this.#doubt(formOf(row), true);
  }

  #doubt(form: HTMLFormElement, on: boolean): void {
    if (on) {
      this.#doubted = keyOf(form);
      this.#doubtedAt = performance.now();
    }
    const said = form.querySelector<HTMLElement>('[data-surprise]');
    const again = form.querySelector<HTMLButtonElement>('[data-again]');
    if (said === null || again === null) return;
    said.hidden = !on;
    again.hidden = !on;
    // Enter presses the first button that submits, hidden or not.
    again.type = on ? 'submit' : 'button';
    again.classList.toggle('quiet', !on);
    form.querySelector('[data-note]')?.classList.toggle('quiet', on);
    if (on) this.#draw(true);
  }

  #draw(odd: boolean): void {
    const row = this.#current();
    const place = row?.querySelector<HTMLElement>('[data-chart]');
    if (!row || !place) return;
    const unit = unitOf(row);
    const series = seriesIn(row, unit.value);
    const text = inputOf(row)?.value ?? '';
    const value = plainNumber(text);
    const factor = dilutionOf(row);
    const decimals = Number(unit.dataset.decimals);
    const typed =
      value === null
        ? null
        : { value: value * factor, text: factor === 1 ? text : (value * factor).toFixed(decimals), odd };
    // A slip of the decimal point would squeeze all other results into a line.
    const near = typed !== null && isNear(series, typed.value) ? typed : null;
    const { clientWidth: width, clientHeight: height } = place;
    place.innerHTML = chartMarkup(series, near, { width, height, decimals, now: Date.now() });
  }

  #click(event: MouseEvent): void {
    const target = event.target as Element;
    const row = target.closest<HTMLElement>('.test-stage > .current');
    if (row === null) return;
    if (target.closest('[data-key="skip"]') !== null) {
      const stage = stageHere();
      const next = stage === null ? undefined : openAfter(stage, row);
      if (stage === null) return;
      if (next === undefined) this.#leave(stage.dataset.stage ?? '/rounds');
      else this.#show(stage, next);
    }
    const other = target.closest<HTMLElement>('[data-use-unit]');
    const select = row.querySelector<HTMLSelectElement>('select[name="unit"]');
    if (other !== null && select !== null) {
      select.value = other.dataset.useUnit ?? select.value;
      select.dispatchEvent(new Event('input', { bubbles: true }));
      const doubt = row.querySelector<HTMLElement>('[data-doubt]');
      if (doubt !== null) doubt.hidden = true;
    }
  }

  /** Escape closes what is open: the choice of unit and kit first, then the tests. */
  #key(event: KeyboardEvent): void {
    const stage = stageHere();
    if (stage === null || event.key !== 'Escape') return;
    const open = stage.querySelector<HTMLDetailsElement>('.current details[open]');
    if (open !== null) open.open = false;
    else this.#leave(stage.dataset.stage ?? '/rounds');
  }
}

/** The link to the next rack, where nothing but its tests is due in the system; else null. */
const onwardFrom = (stage: HTMLElement): HTMLAnchorElement | null =>
  stage.dataset.onward === undefined ? null : document.querySelector('a[data-next-rack]');

const endWords = (stage: HTMLElement): string =>
  onwardFrom(stage) === null ? 'Save and close' : 'Save, next rack';

/** How long the hand rests before a number is judged, ms (own choice). */
const pause = 250;
/** How long a question is shown before a tap answers it, so that none hits it by surprise, ms (own choice). */
const seen = 1000;

const stageHere = () => document.querySelector<HTMLElement>('.test-stage');
const rowsOf = (stage: HTMLElement) => [...stage.querySelectorAll<HTMLElement>(':scope > [data-test]')];
const isDone = (row: HTMLElement) => row.classList.contains('done');
const inputOf = (row: HTMLElement) => row.querySelector<HTMLInputElement>('[data-pad]');
const formOf = (row: HTMLElement) => row.querySelector('form') as HTMLFormElement;
const keyOf = (form: HTMLFormElement) => {
  const typed = new FormData(form);
  return ['quantityCode', 'text', 'unit', 'how', 'dilution'].map((name) => typed.get(name) ?? '').join('|');
};

/** Takes back what was asked of another number: a changed one is judged anew. */
function unask(form: HTMLFormElement): void {
  const doubt = form.querySelector<HTMLElement>('[data-doubt]');
  const sure = form.querySelector<HTMLInputElement>('[name="sure"]');
  if (doubt !== null) doubt.hidden = true;
  if (sure !== null) sure.checked = false;
  form.querySelector('.field-error')?.remove();
  inputOf(form)?.removeAttribute('aria-invalid');
}

/** The next test that was not done on this round, from the one after `row` on; undefined where all others are. */
function openAfter(stage: HTMLElement, row: HTMLElement): HTMLElement | undefined {
  const rows = rowsOf(stage);
  const at = rows.indexOf(row);
  return [...rows.slice(at + 1), ...rows.slice(0, at)].find((one) => !isDone(one));
}

/** "calcium", but "pH" and "PAR" as they are. */
const inSentence = (name: string) =>
  /^[A-Z][a-z]/.test(name) ? name.charAt(0).toLowerCase() + name.slice(1) : name;

const unitOf = (row: HTMLElement) =>
  row.querySelector<HTMLOptionElement>('select[name="unit"] option:checked') as HTMLOptionElement;

const dilutionOf = (row: HTMLElement) =>
  plainNumber(row.querySelector<HTMLInputElement>('[name="dilution"]')?.value ?? '') ?? 1;

/** Says unit, kit and the last result as they are chosen now. */
function sayWith(row: HTMLElement): void {
  const unit = unitOf(row);
  const chosen = row.querySelector<HTMLOptionElement>('select[name="how"] option:checked');
  const how = chosen?.text ?? '';
  const against = chosen?.dataset.doubtOf ?? '';
  const name = row.dataset.test === 'ph' ? '' : unit.text;
  const said: [string, string][] = [
    ['[data-with]', name === '' ? how : `${name} · ${how}`],
    ['[data-unit]', name],
    ['.test-last', unit.dataset.said ?? ''],
    ['[data-kit-doubt-words]', against],
  ];
  for (const [where, text] of said) {
    const place = row.querySelector(where);
    if (place !== null) place.textContent = text;
  }
  const doubt = row.querySelector<HTMLElement>('[data-kit-doubt]');
  if (doubt !== null) doubt.hidden = against === '';
}

/** The results in a unit; empty where the unit cannot say them. */
function seriesIn(row: HTMLElement, unit: string): ChartSeries {
  const stored = JSON.parse(formOf(row).dataset.series ?? '{}') as ChartSeries;
  const code = row.dataset.test ?? '';
  if (!isQuantityCode(code)) return stored;
  const from = canonicalUnit(code);
  try {
    const to = (value: number) => convert(code, value, from, unit);
    return {
      points: stored.points.map(({ at, value, uncertainty, bound }) => ({
        at,
        bound,
        value: to(value),
        uncertainty: Math.abs(convertDifference(code, uncertainty, from, unit, value)),
      })),
      low: stored.low === null ? null : to(stored.low),
      high: stored.high === null ? null : to(stored.high),
    };
  } catch {
    return { points: [], low: null, high: null };
  }
}

/** Whether a number is near enough to the others to be drawn among them: within three times their span (own choice). */
function isNear({ points, low, high }: ChartSeries, value: number): boolean {
  const known = [...points.map((point) => point.value), low, high].filter((each) => each !== null);
  if (known.length === 0) return true;
  const [least, most] = [Math.min(...known), Math.max(...known)];
  const room = Math.max((most - least) * 3, Math.abs(most) * 0.5);
  return value >= least - room && value <= most + room;
}
