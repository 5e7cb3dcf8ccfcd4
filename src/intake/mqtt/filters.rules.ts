/** Topics and filters of topics as MQTT 5 has them, 4.7: levels with "/" between, "+" for one level, "#" for all that follow. */

/** The longest filter that is kept (own choice; the standard allows 65,535 bytes). */
export const longestFilter = 300;

/** Why text is no filter of topics, as a sentence; null where it is one. */
export function filterFault(filter: string): string | null {
  const levels = filter.split('/');
  if (filter === '') return 'Enter a topic.';
  if (filter.includes('\0')) return 'A topic holds no such character.';
  if (filter.startsWith('$')) return 'Topics that begin with $ belong to the broker itself. Choose others.';
  if (levels.some((level, i) => level.includes('#') && (level !== '#' || i < levels.length - 1)))
    return '# stands alone and at the end: farm/hall/#.';
  if (levels.some((level) => level.includes('+') && level !== '+'))
    return '+ stands for a whole level: farm/+/temperature.';
  return null;
}

/** Whether a filter stands for several topics. */
export const isWide = (filter: string): boolean => /[+#]/.test(filter);

/** Whether a filter gives a topic. One that begins with "+" or "#" gives no topic that begins with "$". */
export function matches(filter: string, topic: string): boolean {
  const asked = filter.split('/');
  const given = topic.split('/');
  if (topic.startsWith('$') && !filter.startsWith('$')) return false;
  for (const [i, level] of asked.entries()) {
    // "a/#" gives "a" too.
    if (level === '#') return true;
    if (i >= given.length || (level !== '+' && level !== given[i])) return false;
  }
  return asked.length === given.length;
}
