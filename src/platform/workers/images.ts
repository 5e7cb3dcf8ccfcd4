/**
 * The image library, read when the first picture is drawn: a start does without it. A picture is drawn by one of its threads,
 * and it keeps nothing of pictures: one of 80 megapixels takes 250 MB while it is drawn.
 */
export async function imageLibrary() {
  const { default: sharp } = await import('sharp');
  sharp.concurrency(1);
  sharp.cache(false);
  return sharp;
}
