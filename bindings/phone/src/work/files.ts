// Files that leave the page, and files that come in.

/** Hands a text out as a file: shared where the device shares files, else downloaded. */
export async function handOut(name: string, type: string, text: string): Promise<void> {
  const file = new File([text], name.replace(/[\\/:*?"<>|]+/g, "-"), { type });
  if (matchMedia("(pointer: coarse)").matches && navigator.canShare?.({ files: [file] })) {
    try {
      await navigator.share({ files: [file] });
      return;
    } catch (refused) {
      // Closed by whoever was asked where to: nothing more to do. Anything else: download it.
      if (refused instanceof DOMException && refused.name === "AbortError") return;
    }
  }
  const url = URL.createObjectURL(file);
  const link = Object.assign(document.createElement("a"), { href: url, download: file.name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}
