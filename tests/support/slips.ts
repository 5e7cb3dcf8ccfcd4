/** Slips of sentences that are put together from parts, with what is wrong. */
const slips: readonly { wrong: RegExp; what: string }[] = [
  { wrong: /\b(?:undefined|NaN|null|Infinity)\b|\[object/, what: 'a value that is none' },
  {
    wrong:
      /(?<![\d.,]|[\d.] to |[−–-])1 (?:days|hours|weeks|months|minutes|times|lots|pieces|readings|tests|doses|steps|systems|alerts|racks|rounds|kits|changes|entries|rows|slots|lamps|tanks|people|rooms|files|photos|orders|devices|corals|looks|litres|grams|others)\b/,
    what: 'one of a plural',
  },
  {
    wrong:
      /(?<![\d.,/])(?:0|[2-9]|[1-9]\d+) (?:day|hour|week|month|minute|lot|piece|reading|dose|step|system|alert|rack|kit|entry|row|slot|lamp|tank|device|litre|gram)(?=[.,;:)]|$| (?:ago|of|is|are|was|were|and|or|to|in|on|at|a|each)\b)/,
    what: 'several of a singular',
  },
  { wrong: /(?<![\d.,])1 [a-z]+s (?:are|were|have|stand|lie|need|wait|lose)\b/, what: 'one that are' },
  {
    wrong:
      /(?<![\d.,]|[Rr]ow )(?:[2-9]|[1-9]\d+) (?:lots|pieces|tests|readings|doses|steps|alerts|systems|racks|kits) (?:is|was|has|stands|needs|waits)\b/,
    what: 'several that is',
  },
  {
    wrong:
      /\ba (?:hour|alert|acute|event|emergency|older|open|unusual|odd|even|additive|amount|entry|earlier|order|other|8|11|18)\b/i,
    what: 'a before a vowel',
  },
  {
    wrong:
      /\ban (?:day|week|lot|test|new|round|system|kit|probe|reading|month|minute|unit|use|used|usual|one)\b/i,
    what: 'an before a consonant',
  },
  { wrong: /(?<=^|[\s(])[−-]0(?:\.0+)?(?![\d.])/, what: 'less than nothing' },
  { wrong: /(?<![\d.,])0(?:\.0+)? (?:g|kg|mL)\b/, what: 'an amount of nothing' },
  {
    wrong: /(?<!\.)\.\.(?!\.)|,,|;;|::|(?<!\b(?:cf|aff|sp))[.,;:]\s*[,;]|(?<=\w)[?!]\.(?!\w)|\.”\./,
    what: 'two marks running',
  },
  { wrong: / [.,;:](?:\s|$)|\( | \)|“ | ”(?!\w)/, what: 'a space before a mark' },
  {
    wrong: /\b([a-z]{2,}) \1\b(?<!\b(?:that|had|very|two|four|five|six|seven|eight) \w+)/,
    what: 'a word twice',
  },
];

/** What reads wrong in a text as it was put together, each with the words about it. @param spaced whether double spaces count */
export function slipsIn(text: string, { spaced = true } = {}): string[] {
  const found = slips.flatMap(({ wrong, what }) => {
    const at = text.search(wrong);
    return at < 0 ? [] : [`${what}: …${text.slice(Math.max(0, at - 40), at + 50)}…`];
  });
  const gap = spaced ? text.search(/\S {2,}\S/) : -1;
  return gap < 0 ? found : [...found, `two spaces: …${text.slice(Math.max(0, gap - 40), gap + 50)}…`];
}

const blocks =
  /<\/?(?:p|li|ul|ol|h\d|dd|dt|dl|tr|td|th|div|section|article|figure|figcaption|legend|label|button|option|summary|details|nav|header|footer|form|fieldset|main|table|title|text|span class="chip[^>]*|br|a class="button[^>]*)\b[^>]*>/g;

/** The sentences of a page: what stands between its blocks, without marks within a line. */
export const sentencesOf = (body: string): string[] => [
  ...new Set(
    body
      .replace(/<(script|style|svg)[\s\S]*?<\/\1>/g, '\n')
      .replace(blocks, '\n')
      .replace(/<[^>]+>/g, '')
      .replaceAll('&quot;', '"')
      .replace(/&#x27;|&#39;/g, '’')
      .replaceAll('&#x3D;', '=')
      .replaceAll('&amp;', '&')
      .split('\n')
      .map((line) => line.replace(/\s+/g, ' ').trim())
      .filter((line) => line.includes(' ')),
  ),
];
