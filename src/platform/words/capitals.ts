/** A text as a sentence begins: "water never tested" as "Water never tested". An empty one stays so. */
export const capitalized = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

/** A text as it stands within a sentence: "Water moves" as "water moves". For names, which may begin with a sign, see their own. */
export const lowered = (text: string): string => text.charAt(0).toLowerCase() + text.slice(1);
