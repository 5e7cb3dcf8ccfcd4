const postForm = /<form\b[^>]*\bmethod="post"[^>]*>.*?<\/form>/gs;
const headingOfForm = /<h([2-4])\b[^>]*>(?:(?!<\/h\1>).)*<\/h\1>\s*(?=<form\b[^>]*\bmethod="post")/gs;
const fieldOfForm =
  /<(?:input|button|select|textarea)\b[^>]*\sform="[^"]*"[^>]*>(?:[^<]*<\/(?:button|textarea)>)?/g;
const link = /<a\b([^>]*?)\shref="(\/[^"]*)"([^>]*)>(.*?)<\/a>/gs;
const emptied =
  /<(p|div|li|ul|section|details|nav)\b[^>]*>\s*(?:<summary\b[^>]*>(?:(?!<\/summary>).)*<\/summary>\s*)?<\/\1>/gs;

/** What somebody who changes nothing may send all the same: about the own account, and which site to look at. */
const ownForm = /\baction="\/(?:sign-out|account\/|sites\/[^"]*\/look)/;

/**
 * A page as somebody sees it who may look and change nothing: without forms that post, their headings, and doors to pages
 * that would be refused. One rule for every page, so that none can be forgotten.
 * @param mayOpen whether the page at an address of this service may be opened
 */
export function forLooking(html: string, mayOpen: (address: string) => boolean): string {
  const kept: string[] = [];
  const keep = (form: string) => `<!--own-form-${kept.push(form) - 1}-->`;
  const shown = html
    .replace(postForm, (form) => (ownForm.test(form.slice(0, form.indexOf('>'))) ? keep(form) : form))
    .replace(headingOfForm, '')
    .replace(postForm, '')
    .replace(fieldOfForm, '')
    .replace(link, (whole, before: string, href: string, after: string, text: string) => {
      if (mayOpen(href.replace(/&amp;/g, '&'))) return whole;
      return /class="[^"]*\bbutton\b/.test(`${before}${after}`) ? '' : `<span>${text}</span>`;
    });
  return withoutEmptied(shown).replace(/<!--own-form-(\d+)-->/g, (_, n: string) => kept[Number(n)] ?? '');
}

/** What held nothing but what went is no paragraph and no list any more. */
function withoutEmptied(html: string): string {
  const next = html.replace(emptied, (whole, tag: string) =>
    // A box that scripts fill carries a name of its own.
    /^<\w+\b[^>]*\s(?:id|data-[\w-]+|aria-live|role)=/.test(whole) && tag !== 'details' ? whole : '',
  );
  return next === html ? html : withoutEmptied(next);
}
