/** The fields of the form on a page that is sent to `action`, as a browser would send them untouched. */
export function fieldsOf(page: string, action: string): Record<string, string[]> {
  const form = [...page.matchAll(/<form\b([^>]*)>([\s\S]*?)<\/form>/g)].find(([, head = '']) =>
    head.includes(`action="${action}"`),
  )?.[2];
  if (form === undefined) throw new Error(`no form that is sent to ${action}:\n${page}`);
  const fields: Record<string, string[]> = {};
  const add = (name: string | undefined, value: string) => {
    if (name !== undefined && name !== '_csrf') fields[name] = [...(fields[name] ?? []), unescaped(value)];
  };
  const of = (tag: string, name: string) => new RegExp(`\\b${name}="([^"]*)"`).exec(tag)?.[1];
  for (const [tag] of form.matchAll(/<input\b[^>]*>/g)) {
    const unticked = /type="(?:checkbox|radio)"/.test(tag) && !/\bchecked\b/.test(tag);
    if (!unticked) add(of(tag, 'name'), of(tag, 'value') ?? '');
  }
  for (const [, head = '', text = ''] of form.matchAll(/<textarea\b([^>]*)>([\s\S]*?)<\/textarea>/g))
    add(of(head, 'name'), text.trim());
  for (const [, head = '', options = ''] of form.matchAll(/<select\b([^>]*)>([\s\S]*?)<\/select>/g)) {
    const chosen = [...options.matchAll(/<option\b[^>]*>/g)].find(([tag]) => /\bselected\b/.test(tag))?.[0];
    add(of(head, 'name'), chosen === undefined ? '' : (of(chosen, 'value') ?? ''));
  }
  return fields;
}

const unescaped = (text: string) =>
  text
    .replace(/&#x([0-9a-f]+);/gi, (_, code: string) => String.fromCodePoint(Number.parseInt(code, 16)))
    .replaceAll('&quot;', '"')
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&amp;', '&');
