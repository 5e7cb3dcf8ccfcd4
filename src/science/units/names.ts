const forms: Readonly<Record<string, string>> = {
  nitrate: 'NO₃',
  nitrite: 'NO₂',
  phosphate: 'PO₄',
  silicate: 'SiO₂',
};
const signs: readonly [RegExp, string][] = [
  [/^deg(?=[CF]$)/, '°'],
  [/^u(?=g\/L|mol|S\/)/, 'µ'],
];

/** The unit as it is written for people: °C, µg/L, and a concentration always with what it counts (NO₃, N). */
export function unitName(quantityCode: string, unit: string): string {
  if (unit === 'pH') return '';
  const mass = /^([mu]g\/L)(?: (\w+))?$/.exec(unit);
  const form = mass?.[2] ?? forms[quantityCode];
  if (mass !== null && form !== undefined && unit !== 'mg/L CaCO3')
    return `${spelt(mass[1] ?? '')} as ${subscript(form)}`;
  return spelt(unit.replace('CaCO3', 'CaCO₃'));
}

function spelt(unit: string): string {
  return signs.reduce((text, [from, to]) => text.replace(from, to), unit);
}

function subscript(form: string): string {
  return form.replace(/\d/g, (digit) => '₀₁₂₃₄₅₆₇₈₉'[Number(digit)] ?? digit);
}
