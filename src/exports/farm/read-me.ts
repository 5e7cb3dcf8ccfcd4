/** What stands in the archive for whoever opens it. */
export const readMe = (
  sites: readonly { name: string }[],
  now: Date,
): string => `Everything of a farm that is kept with Evenwater.
Farm: ${sites.map(({ name }) => name).join(', ')}
Made: ${now.toISOString()}

data/     every table as JSON lines: one record a line. Numbers are in the units that the service keeps (litres,
          millimetres, grams, degC); times are ISO 8601 in UTC.
csv/      the same tables as CSV, for a spreadsheet. A cell that a spreadsheet would run as a formula has an apostrophe
          before it. The files in data/ are the ones that are read in. What a probe sent on a day some weeks ago is one record
          of data/reading_pack.jsonl: ids, times (milliseconds from from_at), values, uncertainties, lags until each was kept
          (milliseconds), and texts where they are not the value's own. csv/reading.csv has each of them as a row.
photos/   the photographs, named after their records in data/photo.jsonl; photos/small/ has the small ones.
photographs/  straightened photographs of racks, named after their records in data/rack_photograph.jsonl; photographs/original/
          has the originals that were kept.
marks/    the farm's own mark for labels, named after its record in data/site_mark.jsonl.
files/    permits, invoices and certificates, named after data/attached_file.jsonl.
imports/  files that were read in, named after data/import.jsonl.
manifest.json   the version of this format, when it was made, how many rows each table has, and the SHA-256 of each file.

What is not in it: passwords, PINs, access keys, who is signed in, the key that signs tags, tablets, letters, backups.
Tags keep the words that were signed, their signatures and the public keys (data/tag_key.jsonl: Ed25519, base64url, as
RFC 8037 writes "x"), so that anybody can check them: each signature is a JWS (RFC 7515).
The addresses behind the QR codes of tags are in it, and names, addresses and phone numbers of people: keep it as you
keep those.

Into another installation that holds no farm yet: npm run import-farm -- THIS-FILE
or, signed in as its owner: Farm > Bring in a farm from another installation.
`;
