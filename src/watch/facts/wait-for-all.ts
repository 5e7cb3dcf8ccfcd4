/**
 * Waits until all are done, even when one fails, so that none goes on after the caller has returned.
 * @throws the error of the first that failed
 */
export async function waitForAll(work: readonly Promise<unknown>[]): Promise<void> {
  const failed = (await Promise.allSettled(work)).find((one) => one.status === 'rejected');
  if (failed !== undefined) throw failed.reason;
}
