const megabytes = 8;
const lines = (line: string, count: number) => `${line}\n`.repeat(count);

/** Years of hourly values, two columns. */
const readings = (count: number) =>
  ['when,Alkalinity dKH']
    .concat(
      Array.from({ length: count }, (_, i) => {
        const at = new Date(Date.parse('2026-11-24T07:00:00Z') - i * 3_600_000).toISOString();
        return `${at.slice(0, 16)},8.${i % 10}`;
      }),
    )
    .join('\n');

/** Files that take long to read: a name, the text, and words of the page that answers. */
export const largeFiles: [name: string, text: string, words: string][] = [
  ['one line of commas', ','.repeat(megabytes * 1e6), 'not a table of readings'],
  ['lines of 900 commas', lines(','.repeat(900), 9000), 'more than 2,000,000 cells'],
  ['lines of 80 commas', lines(','.repeat(80), 99_000), 'more than 2,000,000 cells'],
  ['quotation marks', '"'.repeat(1e6), 'not a table of readings'],
  ['50,000 readings', readings(50_000), 'Alkalinity dKH'],
];
