// Fills in the browser's own time zone where a farm is set up and nobody has chosen one yet.
const field = document.querySelector<HTMLInputElement>('input[name="timeZone"]');
const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (field !== null && field.value === '' && own !== undefined) field.value = own;
