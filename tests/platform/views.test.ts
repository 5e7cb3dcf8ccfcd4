import { globSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import juice from 'juice';
import { afterAll, describe, expect, it } from 'vitest';
import { type Layout, loadViews, type PageData } from '../../src/platform/views.ts';
import { withoutMarks } from '../support/figures.ts';

const VIEWS = new URL('../../views', import.meta.url).pathname;
const scratch: string[] = [];

afterAll(() => {
  for (const dir of scratch) rmSync(dir, { recursive: true });
});

const page: PageData = {
  title: 'Water',
  area: 'water',
  now: new Date('2026-11-24T07:30:00Z'),
  timeZone: 'Europe/Lisbon',
  site: { id: '0198', name: 'Saltgate Yard', isOnlyOne: true, mayLeave: false },
  person: { name: 'Ines', role: 'owner', isManager: true, isOwner: true },
  units: { volume: 'L', length: 'cm', small: 'mm', mass: 'g', sent: '' },
  csrf: 'token-1',
  counts: { now: 1, today: 2 },
  switchedOff: null,
  emergencies: [],
  notice: null,
  undo: null,
  scripts: [],
  hasErrors: false,
};

/** A folder of views with these files and nothing else. */
function folder(files: Record<string, string>): string {
  const dir = mkdtempSync(join(tmpdir(), 'evenwater-views-'));
  scratch.push(dir);
  for (const [name, text] of Object.entries(files)) {
    mkdirSync(dirname(join(dir, name)), { recursive: true });
    writeFileSync(join(dir, name), text);
  }
  return dir;
}

/** Draws one template given as text. */
function draw(template: string, data: object = {}, files: Record<string, string> = {}): string {
  return loadViews({ dir: folder({ 'x.hbs': template, ...files }) }).render('x', { page, ...data }, null);
}

describe('loading the views', () => {
  it.each([
    [
      'a template that does not parse',
      { 'water/list.hbs': '{{#if x}}' },
      /views\/water\/list\.hbs: Parse error/,
    ],
    ['an unknown partial', { 'a.hbs': '\n{{> nowhere}}' }, /a\.hbs, line 2: there is no partial "nowhere"/],
    ['an unknown helper', { 'a.hbs': '{{shout "x"}}' }, /a\.hbs, line 1: there is no helper "shout"/],
    [
      'an unknown helper in an argument',
      { 'a.hbs': '{{#if (shout x)}}{{/if}}' },
      /there is no helper "shout"/,
    ],
    ['an unknown block', { 'a.hbs': '{{#shout}}x{{/shout}}' }, /there is no helper "shout"/],
    ['a computed partial', { 'a.hbs': '{{> (lookup . "x")}}' }, /must be written out/],
    ['a missing argument', { 'a.hbs': '{{plural n "piece"}}' }, /plural takes 3 arguments, here are 2/],
    ['one argument too many', { 'a.hbs': '{{date a b}}' }, /date takes 1 argument, here are 2/],
  ])('is refused by %s, with the file and the line', (_what, files: Record<string, string>, message) => {
    expect(() => loadViews({ dir: folder(files) })).toThrow(message);
  });

  it('names every broken file at once', () => {
    const dir = folder({ 'a.hbs': '{{> x}}', 'b/c.hbs': '{{> y}}' });
    expect(() => loadViews({ dir })).toThrow(/a\.hbs.*"x"[\s\S]*b\/c\.hbs.*"y"/);
  });

  it('finds a partial by its path, and any other view by its own', () => {
    const files = { 'partials/mark.hbs': 'M', 'water/row.hbs': 'R' };
    expect(draw('{{> mark}}{{> water/row}}', {}, files)).toBe('MR');
  });

  it('allows a partial that is written within the file', () => {
    expect(draw('{{#*inline "own"}}<{{n}}>{{/inline}}{{> own n=1}}')).toBe('<1>');
  });

  it('reads the folder anew for every page while developing, and once otherwise', () => {
    const dir = folder({ 'x.hbs': 'old' });
    const [dev, once] = [loadViews({ dir, dev: true }), loadViews({ dir })];
    writeFileSync(join(dir, 'x.hbs'), 'new');
    expect([dev.render('x', {}, null), once.render('x', {}, null)]).toEqual(['new', 'old']);
  });
});

describe('rendering a view', () => {
  it('escapes what people typed', () => {
    expect(draw('<p title="{{t}}">{{t}}</p>', { t: '"><script>' })).toBe(
      '<p title="&quot;&gt;&lt;script&gt;">&quot;&gt;&lt;script&gt;</p>',
    );
  });

  it('refuses a field that the data lacks, naming the view', () => {
    expect(() => draw('{{alkalinty}}')).toThrow(/views\/x\.hbs: "alkalinty" not defined/);
  });

  it('names the partial in which a field was missing', () => {
    expect(() => draw('{{> p a=1}}', {}, { 'partials/p.hbs': '{{b}}' })).toThrow(
      /^views\/partials\/p\.hbs: "b"/,
    );
  });

  it('refuses a missing list rather than calling it empty', () => {
    expect(() => draw('{{#each readings}}x{{else}}none{{/each}}')).toThrow(
      /each got undefined in place of a list/,
    );
    expect(draw('{{#each readings}}x{{else}}none{{/each}}', { readings: [] })).toBe('none');
  });

  it('gives a partial only what it is handed, and the page', () => {
    const files = { 'partials/p.hbs': '{{#if hint}}leaked{{/if}}{{@root.page.title}}' };
    expect(draw('{{> p a=1}}', { hint: 'h' }, files)).toBe('Water');
  });

  it('says which view does not exist', () => {
    expect(() => loadViews({ dir: VIEWS }).render('nowhere', {}, null)).toThrow('there is no view "nowhere"');
  });

  it('leaves plain text as it is: nothing escaped, times without markup', () => {
    const views = loadViews({ dir: folder({ 'mail.txt.hbs': '{{t}} at {{time page.now}}' }) });
    expect(views.render('mail.txt', { page, t: 'a & b' })).toBe('a & b at 07:30');
  });
});

describe('helpers', () => {
  const at = new Date('2026-11-24T07:30:00Z');

  it.each([
    ['{{#if (eq a 1)}}y{{else}}n{{/if}}', { a: 1 }, 'y'],
    ['{{#if (eq a "1")}}y{{else}}n{{/if}}', { a: 1 }, 'y'],
    ['{{#if (eq a b)}}y{{else}}n{{/if}}', { a: null }, 'n'],
    ['{{#if (not a)}}y{{else}}n{{/if}}', { a: [] }, 'y'],
    ['{{#if (and a b c)}}y{{else}}n{{/if}}', { a: 1, b: 2, c: '' }, 'n'],
    ['{{#if (or a b)}}y{{else}}n{{/if}}', { a: 0, b: 3 }, 'y'],
    ['{{#if (and a b)}}y{{else}}n{{/if}}', { a: 0, b: 3 }, 'n'],
    ['{{#if (not a)}}y{{else}}n{{/if}}', { a: 0 }, 'y'],
    ['{{or a b "third"}}', { a: '' }, 'third'],
    ['{{orEmpty a}}|{{orEmpty b}}', { a: 0 }, '0|'],
    ['{{concat "/lots/" code}}', { code: 'K7-3Q' }, '/lots/K7-3Q'],
    [
      '{{plural a "piece" "pieces"}}, {{plural b "piece" "pieces"}}',
      { a: 1, b: 1148 },
      '1 piece, 1,148 pieces',
    ],
    ['{{number a 2}} {{number b}} {{number c 0}}', { a: 8, b: -1.25, c: 1335.4 }, '8.00 −1.25 1,335'],
    ['{{errorFor errors "a"}}{{errorFor none "a"}}', { errors: [{ field: 'a', message: 'M' }] }, 'M'],
  ])('%s', (template, data, expected) => {
    expect(draw(template, data)).toBe(expected);
  });

  it('writes times in the site zone, as time elements', () => {
    expect(draw('{{when at}}', { at, page: { ...page, timeZone: 'Asia/Tokyo' } })).toBe(
      '<time datetime="2026-11-24T07:30:00Z">24 Nov 16:30</time>',
    );
    expect(draw('{{date at}} {{day at}} {{time at}}', { at }).replaceAll(/<[^>]+>/g, '')).toBe(
      '24 Nov 2026 Tuesday 24 November 07:30',
    );
    expect(draw('{{ago d}}', { d: '2026-11-12' })).toBe('<time datetime="2026-11-12">12 days ago</time>');
  });

  it.each(['date', 'day', 'time', 'when', 'ago', 'json', 'svg'])(
    '%s refuses a missing argument by name',
    (name) => {
      expect(() => draw(`{{${name} missing}}`)).toThrow(
        `views/x.hbs: ${name} got undefined as its first argument`,
      );
    },
  );

  it.each([
    ['{{plural n "a" "b"}}', /plural needs a whole number first/],
    ['{{number n}}', /number needs a number/],
    ['{{concat "a" n}}', /concat got undefined as its second argument/],
    ['{{svg "<img onerror=x>"}}', /svg needs markup that starts with <svg/],
    ['{{asset "gone.css"}}', /there is no asset "gone\.css"/],
  ])('%s is refused', (template, message) => {
    expect(() => draw(template)).toThrow(message);
  });

  it('writes JSON that cannot leave its script element', () => {
    const data = { a: '</script><!-- & \u2028' };
    const written = draw('{{json data}}', { data });
    expect(written).not.toMatch(/[<>&\u2028]/);
    expect(JSON.parse(written)).toEqual(data);
  });

  it('passes pictures made by the server as they are', () => {
    expect(draw('{{svg p}}', { p: '<svg viewBox="0 0 1 1"></svg>' })).toBe('<svg viewBox="0 0 1 1"></svg>');
  });

  it('gives an asset an address that changes with its content', () => {
    const address = (css: string) => draw('{{asset "a.css"}}', {}, { 'assets/a.css': css });
    expect(address('x')).toMatch(/^\/assets\/a\.css\?v=[0-9a-f]{12}$/);
    expect(address('x')).not.toBe(address('y'));
  });
});

describe('partials', () => {
  const examples: Record<string, object[]> = JSON.parse(
    readFileSync(join(VIEWS, 'partials/examples.json'), 'utf8'),
  );
  const names = Object.keys(examples);
  const views = loadViews({ dir: VIEWS });
  const partial = (name: string, data: object) => views.render(`partials/${name}`, { page, ...data }, null);

  it('have an example each, and a header with their options', () => {
    const files = globSync('*.hbs', { cwd: join(VIEWS, 'partials') });
    expect(files.map((file) => file.replace('.hbs', '')).sort()).toEqual(names.sort());
    for (const file of files) {
      expect(readFileSync(join(VIEWS, 'partials', file), 'utf8'), file).toMatch(
        /^\{\{!--[\s\S]*?(Options|page itself)/,
      );
    }
  });

  it.each(names)('%s renders every example, with markup in text shown as text', (name) => {
    for (const example of examples[name] ?? []) {
      const html = partial(name, example);
      const typed = JSON.stringify({ ...example, picture: '' }).match(/<\/?[a-z]+>/gi) ?? [];
      for (const markup of typed.filter((tag) => /[A-Z]|textarea|em|<b>|<i>/.test(tag))) {
        expect(html.replaceAll(/<textarea[^>]*>|<\/textarea>\s*<\/span>/g, '')).not.toContain(markup);
      }
      expect(html).not.toMatch(/undefined|\[object/);
    }
  });

  it('field ties its message, hint, last value and unit to the input', () => {
    const html = partial('field', { ...examples.field?.[1] });
    expect(html).toContain('aria-invalid="true"');
    expect(html).toContain(
      'aria-describedby="alkalinity-error alkalinity-hint alkalinity-last alkalinity-unit"',
    );
    expect(html).toContain('value="8,x&lt;3"');
    expect(html).toMatch(/id="alkalinity-error".*Write it with a point/);
  });

  it('field shows a zero that was typed', () => {
    expect(partial('field', { ...examples.field?.[2] })).toContain('value="0"');
  });

  it('select marks the chosen option whether it came as a number or as text', () => {
    expect(partial('select', { ...examples.select?.[0] })).toMatch(/value="2" selected/);
  });

  it('error summary leads to the fields, and says nothing when nothing is wrong', () => {
    expect(partial('error-summary', { ...examples['error-summary']?.[0] })).toContain('href="#alkalinity"');
    expect(partial('error-summary', { errors: [] }).trim()).toBe('');
  });

  it('the form that posts carries token and key', () => {
    expect(partial('hidden-form', { key: 'k1' }).trim()).toBe(
      '<input type="hidden" name="_csrf" value="token-1"><input type="hidden" name="_key" value="k1">',
    );
  });

  it('the form that posts gets a key of its own where none is given', () => {
    const key = () => /name="_key" value="([^"]+)"/.exec(partial('hidden-form', {}))?.[1];
    expect(key()).toMatch(/^[\w-]{20,}$/);
    expect(key()).not.toBe(key());
  });

  it('the form that posts carries the units and the site it was drawn in, where there is a choice', () => {
    const units = { volume: 'gal (US)', length: 'in', mass: 'oz', sent: 'gal (US)|in|oz|degF' };
    const site = { id: '0198', name: 'Saltgate Yard', isOnlyOne: false, mayLeave: true };
    expect(partial('hidden-form', { key: 'k1', page: { ...page, units, site } }).trim()).toBe(
      [
        '<input type="hidden" name="_csrf" value="token-1">',
        '<input type="hidden" name="_site" value="0198">',
        '<input type="hidden" name="_units" value="gal (US)|in|oz|degF">',
        '<input type="hidden" name="_key" value="k1">',
      ].join(''),
    );
  });

  it('what is switched off is confirmed by a form that carries token and key', () => {
    const html = partial('switched-off', { ...examples['switched-off']?.[0] });
    expect(html).toMatch(
      /<form method="post" action="\/farm\/switched-off\/1\/running"[^>]*>\s*<input type="hidden" name="_csrf" value="token-1"><input type="hidden" name="_key" value="[^"]+">/,
    );
  });
});

describe('layouts', () => {
  const body = { 'x.hbs': '<h1>Long run</h1>' };
  const layouts = ['house', 'plain', 'public', 'round', 'mail'] as const satisfies Layout[];
  const copy = Object.fromEntries(
    ['evenwater.css', 'evenwater.webmanifest', 'favicon.svg'].map((f) => [
      `assets/${f}`,
      readFileSync(join(VIEWS, 'assets', f), 'utf8'),
    ]),
  );

  function inLayout(layout: Layout, changes: Partial<PageData> = {}): string {
    const own = globSync('{layouts,partials}/*.hbs', { cwd: VIEWS });
    const files = Object.fromEntries(own.map((f) => [f, readFileSync(join(VIEWS, f), 'utf8')]));
    const views = loadViews({ dir: folder({ ...files, ...copy, ...body }) });
    return views.render('x', { page: { ...page, ...changes } }, layout);
  }

  it.each(layouts)('%s frames the view as one document in English', (layout) => {
    const html = inLayout(layout);
    expect(html.trimStart()).toMatch(/^<!doctype html>\n<html lang="en"[ >]/);
    expect(html).toContain('<h1>Long run</h1>');
    expect(html).toMatch(/<title>Water/);
  });

  it('house names the area, the person, the open alerts, and offers the way out by POST', () => {
    const html = inLayout('house');
    expect(html).toContain('href="/water" aria-current="page"');
    expect(withoutMarks(html)).toContain('1<span class="unseen"> to act on now</span>');
    expect(html).toMatch(
      /<form method="post" action="\/sign-out"><input type="hidden" name="_csrf" value="token-1">/,
    );
    expect(html).toContain('href="/people"');
  });

  it('house keeps people and farm from those who may not open them', () => {
    const hand = { name: 'Tomas', role: 'hand', isManager: false, isOwner: false };
    expect(inLayout('house', { person: hand })).not.toMatch(/href="\/(people|farm)"/);
    const manager = { name: 'Ravi', role: 'manager', isManager: true, isOwner: false };
    expect(inLayout('house', { person: manager })).toContain('href="/farm"');
    expect(inLayout('house', { person: manager })).not.toContain('href="/people"');
  });

  it('the title says that a form was refused', () => {
    expect(inLayout('house', { hasErrors: true })).toContain('<title>Error: Water · Evenwater</title>');
  });

  it('the notice is said once, escaped', () => {
    expect(inLayout('house', { notice: 'Saved <8.3>.' })).toContain('role="status">Saved &lt;8.3&gt;.');
  });

  it('the notice offers to undo what can be undone, and nothing else', () => {
    const undo =
      /<form method="post" action="\/undo\/7"[^>]*><input type="hidden" name="_csrf" value="token-1">[\s\S]*?Undo<\/button>/;
    expect(inLayout('house', { notice: 'Saved.', undo: '/undo/7' })).toMatch(undo);
    expect(inLayout('house', { notice: 'Saved.' })).not.toContain('Undo');
  });

  it('public and mail carry no script, no token and no way into the house', () => {
    for (const layout of ['public', 'mail'] as const) {
      const html = inLayout(layout, { scripts: ['/assets/round.js'] });
      expect(html).not.toMatch(/<script|token-1|sign-out|<nav|rel="manifest"/);
    }
    expect(inLayout('round', { scripts: ['/assets/round.js'] })).toContain(
      '<script type="module" src="/assets/round.js">',
    );
  });

  it('mail can be inlined, so that readers without style sheets see it', () => {
    const mail = juice(inLayout('mail'));
    expect(mail).toMatch(/<body style="[^"]*background: #f4f0e6/);
    expect(mail).toMatch(/<h1 style="[^"]*font-size: 24px/);
    expect(mail).not.toContain('var(');
  });

  it('plain stands without a site and without a person', () => {
    expect(inLayout('plain', { site: null, person: null, area: null })).toContain('<h1>Long run</h1>');
  });
});
