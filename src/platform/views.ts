import { createHash } from 'node:crypto';
import { existsSync, globSync, mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import Handlebars from 'handlebars';
import { readerWords } from './units/reader-words.ts';
import { faultsOf, type Known } from './views/check.ts';
import { asHandlebars, type Helper, helpers } from './views/helpers.ts';
import type { Layout } from './views/page.ts';

export type { Layout, PageData } from './views/page.ts';

/** Everything that is drawn from a template: pages, mails, plain text. */
export interface Views {
  /**
   * Draws `views/<name>.hbs` with `data` and puts it into a layout ('house' when none is named, null for none).
   * A name that ends in ".txt" is plain text: nothing is escaped, times are words without markup, no layout.
   * Figures in kept words are said in the units of whoever reads.
   * A field that the data lacks, or a helper's missing argument, throws an error naming the view.
   */
  render(name: string, data: object, layout?: Layout): string;
}

export interface ViewOptions {
  /** The folder of the templates; its `assets/` holds what `asset` may name. */
  dir: string;
  /** Reads the folder anew for every page, so that an edit is seen at once. */
  dev?: boolean;
  /**
   * A file in which is kept which templates were found whole: a later start with the same ones reads each when it is first
   * drawn. Without it all are checked each time.
   */
  checkedIn?: string;
}

type Draw = (data: object, options?: Handlebars.RuntimeOptions) => string;
type Library = ReadonlyMap<string, Draw>;
type Engine = ReturnType<typeof Handlebars.create>;

/**
 * Reads and checks every template under `dir`.
 * @throws Error naming file and line when a template cannot be parsed, or names an unknown partial, helper or asset
 */
export function loadViews({ dir, dev = false, checkedIn }: ViewOptions): Views {
  let library = load(dir, checkedIn);
  return {
    render(name, data, layout = 'house') {
      if (dev) library = load(dir, checkedIn);
      const plain = name.endsWith('.txt');
      const body = find(library, name)(data, { data: { plain } });
      if (layout === null || plain) return readerWords(body);
      return readerWords(
        find(library, `layouts/${layout}`)({ ...data, body: new Handlebars.SafeString(body) }),
      );
    },
  };
}

function find(library: Library, name: string): Draw {
  const draw = library.get(name);
  if (!draw) throw new Error(`there is no view "${name}"`);
  return draw;
}

/** The last reading of each folder: as long as its files are the same, they are not parsed again. */
const readings = new Map<string, { mark: string; library: Library }>();

function load(dir: string, checkedIn?: string): Library {
  const sources = new Map(
    globSync('**/*.hbs', { cwd: dir }).map((file) => [
      file.replaceAll('\\', '/').replace(/\.hbs$/, ''),
      readFileSync(join(dir, file), 'utf8'),
    ]),
  );
  const mark = markOf(sources, join(dir, 'assets'));
  const last = readings.get(dir);
  if (last?.mark === mark) return last.library;
  const library = compileChecked(dir, sources, { mark, checkedIn });
  readings.set(dir, { mark, library });
  return library;
}

/** Differs as soon as a template, or a file that templates link to with a mark of its content, does. */
function markOf(sources: ReadonlyMap<string, string>, assets: string): string {
  const mark = createHash('sha256').update(JSON.stringify([...sources]));
  for (const file of globSync('**/*', { cwd: assets })) {
    const { size, mtimeMs } = statSync(join(assets, file));
    mark.update(JSON.stringify([file, size, mtimeMs]));
  }
  return mark.digest('hex');
}

function compileChecked(
  dir: string,
  sources: ReadonlyMap<string, string>,
  { mark, checkedIn }: { mark: string; checkedIn: string | undefined },
): Library {
  const known = new Map(Object.entries({ ...helpers, asset: assetHelper(join(dir, 'assets')) }));
  const engine = newEngine(known);
  // What is found whole depends on the helpers and the parser, too.
  const takes = [...known].map(([name, helper]) => [name, helper.takes]);
  const whole = `${Handlebars.VERSION} ${JSON.stringify(takes)} ${mark}\n`;
  if (checkedIn === undefined || !holds(checkedIn, whole)) {
    const parsed = parseAll(engine, sources);
    check(parsed, { partials: new Set([...parsed.keys()].map(partialName)), helpers: known });
    if (checkedIn !== undefined) keep(checkedIn, whole);
  }
  return compileAll(engine, sources, known);
}

function holds(file: string, text: string): boolean {
  try {
    return readFileSync(file, 'utf8') === text;
  } catch {
    return false;
  }
}

function keep(file: string, text: string): void {
  try {
    mkdirSync(dirname(file), { recursive: true });
    writeFileSync(file, text);
  } catch {
    // Where nothing can be written, all is checked at the next start again.
  }
}

/** `partials/field` is `{{> field}}`; any other view goes by its path, as `{{> water/row}}`. */
function partialName(view: string): string {
  return view.replace(/^partials\//, '');
}

function newEngine(known: ReadonlyMap<string, Helper>): Engine {
  const engine = Handlebars.create();
  for (const [name, helper] of known) engine.registerHelper(name, asHandlebars(name, helper));
  const each = engine.helpers.each as Handlebars.HelperDelegate;
  // A list that is missing is a mistake; drawn as an empty list it would be a false statement.
  engine.registerHelper('each', function (this: unknown, list: unknown, options: Handlebars.HelperOptions) {
    if (list === undefined || list === null) throw new Error(`each got ${list} in place of a list`);
    return each.call(this, list, options);
  });
  return engine;
}

function parseAll(engine: Engine, sources: ReadonlyMap<string, string>): Map<string, hbs.AST.Program> {
  const parsed = new Map<string, hbs.AST.Program>();
  for (const [name, source] of sources) {
    parsed.set(
      name,
      naming(name, () => engine.parse(source)),
    );
  }
  return parsed;
}

function check(parsed: ReadonlyMap<string, hbs.AST.Program>, known: Known): void {
  const faults = [...parsed].flatMap(([name, template]) =>
    faultsOf(template, known).map((fault) => `${name}.hbs, ${fault}`),
  );
  if (faults.length > 0) throw new Error(`broken views:\n${faults.join('\n')}`);
}

function compileAll(
  engine: Engine,
  sources: ReadonlyMap<string, string>,
  known: ReadonlyMap<string, Helper>,
): Library {
  const library = new Map<string, Draw>();
  const knownHelpers = Object.fromEntries([...known.keys()].map((name) => [name, true]));
  for (const [name, template] of sources) {
    // Parsed when it is first drawn.
    const compiled = engine.compile(template, {
      strict: true,
      explicitPartialContext: true,
      knownHelpersOnly: true,
      knownHelpers,
      // A partial's lines are not moved in: what stands in a text area would be, too, and be saved so.
      preventIndent: true,
      noEscape: name.endsWith('.txt'),
    });
    // A partial that is handed nothing has nothing, rather than failing on it.
    const draw: Draw = (data, options) => naming(name, () => compiled(data ?? {}, options));
    library.set(name, draw);
    engine.registerPartial(partialName(name), draw);
  }
  return library;
}

/** Runs `work` and puts the file's name before the message of an error that has none yet. */
function naming<T>(name: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    if (message.startsWith('views/')) throw error;
    throw new Error(`views/${name}.hbs: ${message}`, { cause: error });
  }
}

/** `{{asset "evenwater.css"}}`: its address with a mark of its content, so that it may be cached for good. */
function assetHelper(folder: string): Helper {
  const addresses = new Map<string, string>();
  const address = (file: string) => {
    const path = join(folder, file);
    if (!existsSync(path)) throw new Error(`there is no asset "${file}"`);
    return `/assets/${file}?v=${createHash('sha256').update(readFileSync(path)).digest('hex').slice(0, 12)}`;
  };
  return {
    takes: [1, 1],
    run: ([name]) => {
      const file = String(name);
      const known = addresses.get(file) ?? address(file);
      addresses.set(file, known);
      return new Handlebars.SafeString(known);
    },
  };
}
