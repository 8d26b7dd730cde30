// A photograph made small enough to travel: drawn anew on a canvas, which takes nothing along but the picture itself. Place,
// camera and time that a phone writes into a file (EXIF) stay behind.

/** Longer side, in pixels: enough to judge tone and line by. */
const LONGEST = 1600;
/** Below what the station takes (1 MiB). */
const MOST_BYTES = 900_000;

/** Gives a JPEG; undefined for a file that is no picture to this browser. */
export async function small(file: Blob): Promise<Uint8Array | undefined> {
  let picture: ImageBitmap;
  try {
    picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    return undefined;
  }
  try {
    let longest = LONGEST;
    for (const quality of [0.86, 0.76, 0.66, 0.56]) {
      const bytes = await drawn(picture, longest, quality);
      if (bytes && bytes.length <= MOST_BYTES) return bytes;
      longest = Math.round(longest * 0.8);
    }
    return undefined;
  } finally {
    picture.close();
  }
}

async function drawn(picture: ImageBitmap, longest: number, quality: number): Promise<Uint8Array | undefined> {
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  const context = canvas.getContext("2d");
  if (!context) return undefined;
  context.imageSmoothingQuality = "high";
  context.drawImage(picture, 0, 0, canvas.width, canvas.height);
  const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/jpeg", quality));
  return blob ? new Uint8Array(await blob.arrayBuffer()) : undefined;
}
