/**
 * Waits for all, also where one fails: nothing goes on behind the back of whoever asked.
 * @throws what the first of them that failed did
 */
export async function waitForAll(work: readonly Promise<unknown>[]): Promise<void> {
  const failed = (await Promise.allSettled(work)).find((one) => one.status === 'rejected');
  if (failed !== undefined) throw failed.reason;
}
