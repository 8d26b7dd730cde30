// A lock against drops of water and sleeves: the floor stays readable, taps do nothing until one place is held down.
import { effect, signal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { autoLock } from "../settings.ts";
import { HoldButton } from "../ui/press.tsx";
import { Shape } from "../ui/shape.tsx";
import { t } from "../words/index.ts";

export const locked = signal(false);
/** How long nobody touches the floor before it locks, where that is wished. */
const IDLE_MS = 30_000;

effect(() => { document.documentElement.classList.toggle("locked", locked.value); });

export function Lock() {
  useEffect(() => {
    if (autoLock.value !== "on") return;
    let timer: ReturnType<typeof setTimeout> | undefined;
    const wait = () => {
      clearTimeout(timer);
      timer = setTimeout(() => { locked.value = true; }, IDLE_MS);
    };
    wait();
    addEventListener("pointerdown", wait);
    return () => {
      clearTimeout(timer);
      removeEventListener("pointerdown", wait);
    };
  }, [autoLock.value]);
  // Whoever leaves the floor has unlocked it.
  useEffect(() => () => { locked.value = false; }, []);
  if (!locked.value) return null;
  return (
    <div class="lock">
      <HoldButton class="tile main" name={t("lock.open")} onHeld={() => { locked.value = false; }}>
        <Shape of="lock" size={36} /><span class="name">{t("lock.open")}</span>
      </HoldButton>
    </div>
  );
}
