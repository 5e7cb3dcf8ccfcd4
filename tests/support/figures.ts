/** A page's text without the marks of its figures, for tests that read sentences. */
export const withoutMarks = (html: string): string => html.replace(/<data [^>]*>|<\/data>/g, '');
