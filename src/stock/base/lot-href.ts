/** The address of a lot's record. */
export const lotHref = (code: string) => `/stock/${code}`;
