/** The two spreadsheets that the owner has: the stock, and 14 months of tests. The farm is invented. */

const kinds = [
  'Goniastrea retiformis',
  'Favites pentagona',
  'Zoanthus sociatus',
  'Harbour Green',
  'Lantern Bay',
  'goniastrea retiformes',
];

/** 400 lots on 18 racks of 10 x 16 slots, own codes K-001 to K-400, one slot each. */
export function stockFile(lots = 400, racks = 18): string {
  const rows = Array.from({ length: lots }, (_, i) => {
    const onRack = Math.floor(i / racks);
    const slot = `${String.fromCharCode(65 + Math.floor(onRack / 16))}${1 + (onRack % 16)}`;
    const code = `K-${String(i + 1).padStart(3, '0')}`;
    const day = `2026-${String(1 + (i % 9)).padStart(2, '0')}-${String(11 + (i % 17)).padStart(2, '0')}`;
    return [
      code,
      kinds[i % kinds.length],
      1 + (i % 6),
      `R${1 + (i % racks)}`,
      slot,
      '30 mm',
      day,
      '12.50',
    ].join(',');
  });
  return ['own code,name,pieces,rack,slot,size,received,price', ...rows].join('\r\n');
}

/** Weekly tests of six quantities in each system over 14 months until the day before, one row a system and day. */
export function testsFile(systems: readonly string[], until: Date, weeks = 61): string {
  const day = (back: number) =>
    new Date(until.getTime() - (7 * back + 1) * 86_400_000).toISOString().slice(0, 10);
  const rows = Array.from({ length: weeks }, (_, back) => weeks - 1 - back).flatMap((back) =>
    systems.map((system, s) => {
      const wave = Math.sin(back / 3 + s);
      const values = [
        8.2 + 0.2 * wave,
        425 + 5 * wave,
        1350 + 10 * wave,
        8 + wave,
        0.06 + 0.01 * wave,
        35 + 0.2 * wave,
      ];
      const digits = [1, 0, 0, 1, 2, 1];
      return [`${day(back)} 08:30`, system, ...values.map((value, i) => value.toFixed(digits[i]))].join(',');
    }),
  );
  const head =
    'date,system,alkalinity (dKH),calcium (mg/L),magnesium (mg/L),nitrate (mg/L),phosphate (mg/L),salinity (ppt)';
  return [head, ...rows].join('\r\n');
}
