// The key that the station's secrets lie locked under. It is random, and itself lies wrapped by a key of the browser's own
// that no script can read out (WebCrypto, not extractable), in IndexedDB. So a copy of the origin's files is no station:
// neither the seed of its name on the wire nor a key of the salon can be read from it.

const NAME = "tailcomb keys";

interface Kept { wrapping: CryptoKey; iv: Uint8Array<ArrayBuffer>; wrapped: ArrayBuffer }

/** The key, made at the first call. */
export async function storeKey(): Promise<Uint8Array> {
  const database = await open();
  try {
    const kept = await read(database) ?? await make(database);
    const key = await crypto.subtle.decrypt({ name: "AES-GCM", iv: kept.iv }, kept.wrapping, kept.wrapped);
    return new Uint8Array(key);
  } finally {
    database.close();
  }
}

/** Forgets it: what lies locked under it can be opened by nobody then. */
export function forgetKey(): Promise<unknown> {
  return answered(indexedDB.deleteDatabase(NAME));
}

async function make(database: IDBDatabase): Promise<Kept> {
  const wrapping = await crypto.subtle.generateKey({ name: "AES-GCM", length: 256 }, false, ["encrypt", "decrypt"]);
  const iv = crypto.getRandomValues(new Uint8Array(12));
  const key = crypto.getRandomValues(new Uint8Array(32));
  const wrapped = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, wrapping, key);
  key.fill(0);
  const kept = { wrapping, iv, wrapped };
  // On the disk before anything is locked under it.
  const write = database.transaction(NAME, "readwrite", { durability: "strict" });
  write.objectStore(NAME).put(kept, "station");
  await new Promise<void>((done, failed) => {
    write.oncomplete = () => done();
    write.onabort = write.onerror = () => failed(write.error ?? new Error("the browser keeps no keys"));
  });
  return kept;
}

function open(): Promise<IDBDatabase> {
  const request = indexedDB.open(NAME, 1);
  request.onupgradeneeded = () => request.result.createObjectStore(NAME);
  return answered(request);
}

function read(database: IDBDatabase): Promise<Kept | undefined> {
  return answered(database.transaction(NAME).objectStore(NAME).get("station"));
}

function answered<T>(request: IDBRequest<T>): Promise<T> {
  return new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error ?? new Error("the browser keeps no keys"));
  });
}
