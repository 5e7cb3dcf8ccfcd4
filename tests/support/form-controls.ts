// Forms as a browser reads them, with every control and what may be chosen in it.

/** One control of a form; radios and check boxes of one name are one control. */
export interface Control {
  name: string;
  kind: 'text' | 'lines' | 'list' | 'one' | 'some' | 'hidden' | 'secret' | 'file';
  /** The type of an input: "date", "email" ... */
  type: string;
  /** What it sends as it stands. */
  values: string[];
  /** What can be chosen. */
  options: string[];
}

export interface PostedForm {
  action: string;
  controls: Control[];
}

const attribute = (tag: string, name: string): string | undefined => {
  const found = new RegExp(`\\s${name}="([^"]*)"`).exec(tag)?.[1];
  return found === undefined ? undefined : plain(found);
};
const has = (tag: string, name: string) => new RegExp(`\\s${name}(?=[\\s>=])`).test(tag);

const plain = (text: string) =>
  text
    .replace(/&#x([0-9a-f]+);/gi, (_, code: string) => String.fromCodePoint(Number.parseInt(code, 16)))
    .replaceAll('&quot;', '"')
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&amp;', '&');

const kindOfInput = (type: string): Control['kind'] => {
  if (type === 'hidden' || type === 'file') return type;
  if (type === 'password') return 'secret';
  if (type === 'radio') return 'one';
  return type === 'checkbox' ? 'some' : 'text';
};

const parts = /<input\b[^>]*>|<textarea\b[^>]*>[\s\S]*?<\/textarea>|<select\b[^>]*>[\s\S]*?<\/select>/g;

/** The controls of a form, in their order; disabled ones and the token left out. */
function controlsOf(form: string): Control[] {
  const controls = new Map<string, Control>();
  for (const [part] of form.matchAll(parts)) {
    const head = /^<[^>]*>/.exec(part)?.[0] ?? '';
    const name = attribute(head, 'name');
    if (name === undefined || name === '_csrf' || has(head, 'disabled')) continue;
    const read = controlOf(part, head, name);
    const known = controls.get(name);
    if (known === undefined) controls.set(name, read);
    else {
      known.values.push(...read.values);
      known.options.push(...read.options);
    }
  }
  return [...controls.values()];
}

function controlOf(part: string, head: string, name: string): Control {
  if (head.startsWith('<textarea')) {
    const text = plain(/>([\s\S]*)<\/textarea>$/.exec(part)?.[1] ?? '').replace(/^\n/, '');
    return { name, kind: 'lines', type: '', values: [text], options: [] };
  }
  if (head.startsWith('<select')) {
    const options = [...part.matchAll(/<option\b[^>]*>/g)].map(([tag]) => tag);
    const chosen = options.filter((tag) => has(tag, 'selected'));
    const sent = chosen.length > 0 || has(head, 'multiple') ? chosen : options.slice(0, 1);
    const textOf = (tag: string) => attribute(tag, 'value') ?? '';
    const usable = options.filter((tag) => !has(tag, 'disabled'));
    return { name, kind: 'list', type: '', values: sent.map(textOf), options: usable.map(textOf) };
  }
  const type = attribute(head, 'type') ?? 'text';
  const kind = kindOfInput(type);
  const value = attribute(head, 'value') ?? (kind === 'one' || kind === 'some' ? 'on' : '');
  if (kind !== 'one' && kind !== 'some') return { name, kind, type, values: [value], options: [] };
  return { name, kind, type, values: has(head, 'checked') ? [value] : [], options: [value] };
}

/** The forms of a page that post, without those that send files. */
export function postedForms(page: string): PostedForm[] {
  return [...page.matchAll(/<form\b([^>]*)>([\s\S]*?)<\/form>/g)]
    .filter(([, head = '']) => /method="post"/.test(head) && !head.includes('multipart'))
    .map(([, head = '', body = '']) => ({
      action: attribute(head, 'action') ?? '',
      controls: controlsOf(body),
    }));
}
