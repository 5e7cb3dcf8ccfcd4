/** How files begin that hold no table as text, and what they are (PKWARE APPNOTE 4.3.7; MS-CFB 2.2; ISO 32000-1 7.5.2). */
const kinds: readonly { begins: readonly number[]; says: (name: string) => string }[] = [
  { begins: [0x50, 0x4b, 0x03, 0x04], says: (name) => (/\.zip$/i.test(name) ? zip : workbook) },
  { begins: [0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1], says: () => workbook },
  { begins: [0x25, 0x50, 0x44, 0x46], says: () => 'This is a PDF. Save its table as CSV and bring that.' },
];
const workbook = 'This is a workbook. Save the sheet as CSV and bring that.';
const zip = 'This is a ZIP file. Unpack it and bring the table as CSV.';

/** What to do instead, where a file is a workbook, an archive or a PDF; null where it may be text. */
export function noTable({ fileName, content }: { fileName: string; content: Uint8Array }): string | null {
  const kind = kinds.find(({ begins }) => begins.every((byte, i) => content[i] === byte));
  return kind?.says(fileName) ?? null;
}
