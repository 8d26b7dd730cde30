// The service worker: keeps the app for flight mode, and says when a newer one is here. It never takes over by itself.
import { signal } from "@preact/signals";

/** A newer version that waits to be started. */
export const newer = signal<ServiceWorker | undefined>(undefined);
/** Everything the app needs lies on this device. */
export const readyOffline = signal(false);

export function watchForUpdates(): void {
  if (!("serviceWorker" in navigator) || import.meta.env.DEV) return;
  void navigator.serviceWorker.register("/sw.js").then((registration) => {
    const look = () => { if (registration.waiting && navigator.serviceWorker.controller) newer.value = registration.waiting; };
    look();
    registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", look));
    setInterval(() => void registration.update().catch(() => {}), 3_600_000);
  }).catch(() => {});
  void navigator.serviceWorker.ready.then(() => { readyOffline.value = true; });
}

export function startNewer(): void {
  const waiting = newer.peek();
  if (!waiting) return;
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  waiting.postMessage({ type: "SKIP_WAITING" });
}
