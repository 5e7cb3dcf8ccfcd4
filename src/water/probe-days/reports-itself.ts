/** SQL: a method that reports by itself, and is no laboratory. */
export const reportsItself = `method.every_minutes IS NOT NULL AND method.laboratory = ''`;
