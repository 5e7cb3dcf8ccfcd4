import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { drawAgainHeader } from '../../src/platform/web/kept-forms.ts';
import { files, walk } from '../support/crawl.ts';
import { type DemoBench, startDemoBench } from '../support/demo-bench.ts';
import { type Control, type PostedForm, postedForms } from '../support/form-controls.ts';
import { browse, type Visitor } from '../support/service.ts';
import { isTyped, typedInto } from '../support/typing.ts';

// Every form of the demo farm is sent with one field broken at a time, and with none. Each is sent under the header of a
// form that is drawn again, so that nothing is saved and the next one meets the same farm.

/** A form with the page it stood on and its token. */
type Found = PostedForm & { page: string; token: string };

let bench: DemoBench;
let owner: Visitor;
/** One form of each kind. */
const forms = new Map<string, Found>();

const ids = /[0-9a-f]{8}-[0-9a-f-]{27}/g;
const kindOf = ({ action, controls }: PostedForm) =>
  `${action
    .replace(/\?.*/, '')
    .replace(ids, ':id')
    .replace(/\b[245678FKNRTWY]{3}-[245678FKNRTWY]{3}\b/g, ':code')
    .replace(/(?<=\/limits\/)[^/?]+\/[^/?]+/, ':rule/:name')
    .replace(/(?<=\/(?:kinds|care)\/)[^/?]+/g, ':name')
    .replace(/\d{4}-\d{2}-\d{2}/g, ':day')} ${controls
    .filter(isTyped)
    .map(({ name }) => name.replace(ids, ':id'))
    .sort()
    .slice(0, 4)}`;

beforeAll(async () => {
  bench = await startDemoBench({ watching: false });
  const { email, password } = bench.person('owner');
  owner = browse(bench.app);
  await owner.post('/sign-in', { email, password });
  await walk(
    owner,
    ['/', '/farm', '/people', '/backups', '/account', '/emergencies'],
    ({ path, body }) => {
      for (const form of postedForms(body)) {
        const kind = kindOf(form);
        // Drawn for the tablet's script, and hidden without it.
        if (form.action === '/emergencies' && !form.controls.some(({ name }) => name === 'systems')) continue;
        if (form.controls.some(isTyped) && !forms.has(kind))
          forms.set(kind, { ...form, page: path, token: tokenIn(body) });
      }
    },
    files,
  );
});
afterAll(() => bench?.close());

const tokenIn = (page: string) => /name="_csrf" value="([^"]+)"/.exec(page)?.[1] ?? '';

/** Something that no field takes: too long for any text, no number, no day, nothing of the list. */
const broken = ({ kind }: Control): string[] =>
  kind === 'text' || kind === 'lines' ? [`<${'no such thing '.repeat(400)}>`] : ['no such choice'];

/** What a form holds in its controls that people fill in. Line ends are the browser's. */
const heldBy = ({ controls }: PostedForm, names: readonly string[]) =>
  Object.fromEntries(
    names.map((name) => [
      name,
      controls.find((one) => one.name === name)?.values.map(lines) ?? 'no such field',
    ]),
  );
const lines = (text: string) => text.replaceAll('\r\n', '\n');

const post = (form: Found, filled: Record<string, string[]>) =>
  owner.post(form.action, { _csrf: form.token, ...hidden(form), ...filled }, { [drawAgainHeader]: 'yes' });
const hidden = ({ controls }: PostedForm) =>
  Object.fromEntries(
    controls.filter(({ kind }) => kind === 'hidden').map(({ name, values }) => [name, values]),
  );

/** What of a form does not come back as it was typed, with one control broken, or none. */
async function lostOf(form: Found, wrong: Control | null): Promise<string | null> {
  const typed = form.controls.filter(isTyped);
  const filled = Object.fromEntries(typed.map((one, n) => [one.name, typedInto(one, n)]));
  const { status, body, location } = await post(form, {
    ...filled,
    ...(wrong && { [wrong.name]: broken(wrong) }),
  });
  const at = `${form.action} of ${form.page}, ${wrong === null ? 'nothing' : wrong.name} broken`;
  if (status >= 500) return `${at}: ${status}`;
  const names = typed.filter((one) => one.name !== wrong?.name).map(({ name }) => name);
  if (status === 303) return `${at}: led to ${location}`;
  const back = postedForms(body).filter((one) =>
    one.controls.some((control) => names.includes(control.name)),
  );
  if (names.length > 0 && back.length === 0) return `${at}: no form came back (${status})`;
  const wanted = Object.fromEntries(names.map((name) => [name, filled[name]?.map(lines)]));
  const differing = back.map((one) => {
    const held = heldBy(one, names);
    return names.filter((name) => JSON.stringify(held[name]) !== JSON.stringify(wanted[name]));
  });
  const least = differing.sort((a, b) => a.length - b.length)[0] ?? [];
  return least.length === 0
    ? null
    : `${at}: lost ${least.map((name) => `${name} (${JSON.stringify(wanted[name])})`).join(', ')}`;
}

describe('every form of the demo farm', () => {
  test('is found by following the links', () => expect(forms.size).toBeGreaterThan(60));

  test.each([1, 2, 3])('brings back what was typed, whatever is refused (part %i of 3)', async (part) => {
    const lost: (string | null)[] = [];
    for (const form of [...forms.values()].filter((_, n) => n % 3 === part - 1)) {
      const own: (string | null)[] = [];
      for (const wrong of [null, ...form.controls.filter(isTyped).slice(0, 12)])
        own.push(await lostOf(form, wrong));
      lost.push(...own.filter((one) => one !== null).slice(0, 2));
    }
    expect(lost).toEqual([]);
  });
});
