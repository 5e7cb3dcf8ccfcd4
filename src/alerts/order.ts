/**
 * SQL: the order of alerts in every list of a farm, a system or a rack: the most urgent first, then how far each is beyond its
 * own limit, then the oldest. `of` is a table or view with an alert's columns.
 */
export const worstFirst = (of: string) => `${of}.severity, -${of}.score, ${of}.opened_at, ${of}.id`;
