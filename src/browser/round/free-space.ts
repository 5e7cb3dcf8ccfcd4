/** Below this much the tablet is said to be nearly full: a hundred photos, or ten thousand notes. Own choice. */
const scarceBytes = 40 * 1024 * 1024;

/** Whether little more can be kept; false where the browser does not say. Asks that what is kept is not thrown away. */
export async function isSpaceLow(): Promise<boolean> {
  const storage = navigator.storage as StorageManager | undefined;
  if (storage?.estimate === undefined) return false;
  try {
    void storage.persist?.().catch(() => false);
    const { quota, usage } = await storage.estimate();
    return quota !== undefined && usage !== undefined && quota - usage < scarceBytes;
  } catch {
    return false;
  }
}
