export type Scheme = 'light' | 'dark';

const CUSTOM_PROPERTY = /--([a-z0-9-]+): ([^;]+);/g;
/** A variable, and what stands for it where the page sets none. */
const VARIABLE = /var\(--([a-z0-9-]+)(?:, ([^()]+))?\)/g;

/**
 * The custom properties of the stylesheet in one scheme, without `--`, variables that stand for one another resolved.
 * @throws Error when the stylesheet has no such block, or names a property it does not define
 */
export function tonesOf(css: string, scheme: Scheme): ReadonlyMap<string, string> {
  const light = css.match(/\n:root \{([\s\S]*?)\n\}/)?.[1];
  const dark = css.match(/prefers-color-scheme: dark\) \{\s*:root \{([\s\S]*?)\n {2}\}/)?.[1];
  if (!light || !dark) throw new Error('the stylesheet defines no tones for light or for dark');
  const source = scheme === 'light' ? light : light + dark;
  const raw = new Map([...source.matchAll(CUSTOM_PROPERTY)].map((m) => [m[1] ?? '', m[2] ?? '']));
  return new Map([...raw].map(([name, value]) => [name, resolved(value, raw)]));
}

/**
 * The stylesheet's rules for charts and racks with the light tones written out, for pictures that leave the house
 * (a PNG in a mail): what draws those knows no custom properties. Put it into a `<style>` of the svg.
 */
export function pictureStyle(css: string): string {
  const rules = css.match(/\/\* Charts: [\s\S]*?(?=\/\* Paper: )/)?.[0];
  if (!rules) throw new Error('the stylesheet has no section for charts and racks');
  return resolved(rules, tonesOf(css, 'light'))
    .replace(/\/\*[\s\S]*?\*\//g, '')
    .trim();
}

function resolved(value: string, tones: ReadonlyMap<string, string>): string {
  return value.replace(VARIABLE, (_, name: string, otherwise: string | undefined) => {
    const tone = tones.get(name) ?? otherwise;
    if (tone === undefined) throw new Error(`the stylesheet does not define --${name}`);
    return resolved(tone, tones);
  });
}
