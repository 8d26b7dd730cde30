// Buttons: one tap, and press-and-hold.
import type { ComponentChildren, TargetedFocusEvent, TargetedKeyboardEvent, TargetedMouseEvent, TargetedPointerEvent } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { t } from "../words/index.ts";
import { useReading } from "./reading.ts";

type Look = "plain" | "main" | "quiet" | "grave";
export interface ButtonProps {
  children: ComponentChildren;
  onPress?: () => void;
  look?: Look;
  wide?: boolean;
  big?: boolean;
  /** Something is under way: the button stays where it is and does nothing. */
  busy?: boolean | undefined;
  disabled?: boolean | undefined;
  label?: string;
  submit?: boolean;
  class?: string;
}

const classes = (look: Look, wide: boolean, big: boolean, more = "") =>
  ["button", look === "plain" ? "" : look, wide ? "wide" : "", big ? "big" : "", more].filter(Boolean).join(" ");

export function Button({ children, onPress, look = "plain", wide = false, big = false, busy = false, disabled = false, label, submit = false, class: more }: ButtonProps) {
  const stands = busy || disabled;
  if (useReading()) return null;
  return (
    <button type={submit ? "submit" : "button"} class={classes(look, wide, big, more)} aria-disabled={stands} aria-label={label}
      aria-busy={busy || undefined}
      onClick={(event) => { if (stands) event.preventDefault(); else onPress?.(); }}>
      {children}
    </button>
  );
}

/** A link that looks like a button. */
export const ButtonLink = ({ href, children, look = "plain", wide = false, big = false }: { href: string; children: ComponentChildren; look?: Look; wide?: boolean; big?: boolean }) =>
  useReading() ? null : <a class={classes(look, wide, big)} href={href}>{children}</a>;

export const HOLD_MS = 900;
/** How long a press from a screen reader or switch stays half done. */
const SURE_MS = 6_000;

/** What a held press puts under the finger must not be clicked by lifting it: a click without a press of its own is none. */
function swallowRelease() {
  const swallow = (event: MouseEvent) => {
    done();
    if (event.detail === 0) return;
    event.preventDefault();
    event.stopPropagation();
  };
  const done = () => {
    removeEventListener("click", swallow, true);
    removeEventListener("pointerdown", done, true);
  };
  addEventListener("click", swallow, true);
  addEventListener("pointerdown", done, true);
}

/**
 * Press-and-hold as handlers, for a button or a whole tile. A key held as long does the same. Screen readers and switches
 * cannot hold: they press twice, and are told so.
 */
export function useHold(onHeld: () => void, onTap?: () => void) {
  const held = useRef<{ frame: number; at: number; done: boolean } | undefined>(undefined);
  const [sure, setSure] = useState(false);
  const latest = useRef(onHeld);
  latest.current = onHeld;

  const end = (element: HTMLElement) => {
    if (held.current) cancelAnimationFrame(held.current.frame);
    element.style.removeProperty("--held");
    const was = held.current;
    held.current = undefined;
    return was;
  };
  const begin = (element: HTMLElement, by: "pointer" | "key") => {
    if (held.current) return;
    const hold = { frame: 0, at: performance.now(), done: false };
    held.current = hold;
    const step = () => {
      const part = Math.min(1, (performance.now() - hold.at) / HOLD_MS);
      element.style.setProperty("--held", String(part));
      if (part < 1) {
        hold.frame = requestAnimationFrame(step);
        return;
      }
      hold.done = true;
      if (by === "pointer") swallowRelease();
      navigator.vibrate?.(60);
      latest.current();
    };
    hold.frame = requestAnimationFrame(step);
  };
  useEffect(() => () => { if (held.current) cancelAnimationFrame(held.current.frame); }, []);
  useEffect(() => {
    if (!sure) return;
    const timer = setTimeout(() => setSure(false), SURE_MS);
    return () => clearTimeout(timer);
  }, [sure]);

  /** Ends a press; a short one is a tap where taps mean something. */
  const release = (element: HTMLElement) => {
    const was = end(element);
    if (was && !was.done) onTap?.();
  };
  const handlers = {
    onPointerDown: (event: TargetedPointerEvent<HTMLElement>) => {
      if (event.button !== 0 || !event.isPrimary) return;
      if (!onTap) event.currentTarget.setPointerCapture?.(event.pointerId);
      begin(event.currentTarget, "pointer");
    },
    onPointerUp: (event: TargetedPointerEvent<HTMLElement>) => release(event.currentTarget),
    onPointerCancel: (event: TargetedPointerEvent<HTMLElement>) => void end(event.currentTarget),
    onPointerLeave: (event: TargetedPointerEvent<HTMLElement>) => void end(event.currentTarget),
    onKeyDown: (event: TargetedKeyboardEvent<HTMLElement>) => {
      if (event.key !== " " && event.key !== "Enter") return;
      event.preventDefault();
      begin(event.currentTarget, "key");
    },
    onKeyUp: (event: TargetedKeyboardEvent<HTMLElement>) => {
      if (event.key !== " " && event.key !== "Enter") return;
      event.preventDefault();
      release(event.currentTarget);
    },
    onBlur: (event: TargetedFocusEvent<HTMLElement>) => void end(event.currentTarget),
    onContextMenu: (event: Event) => event.preventDefault(),
    // A click that no pointer and no key made (`detail` 0) comes from assistive technology.
    onClick: (event: TargetedMouseEvent<HTMLElement>) => {
      if (event.detail !== 0) return;
      if (onTap) onTap();
      else if (sure) { setSure(false); latest.current(); }
      else setSure(true);
    },
  };
  return { handlers, sure };
}

interface HoldProps { children: ComponentChildren; onHeld: () => void; look?: Look; wide?: boolean; big?: boolean; class?: string; name?: string }
/** Does its work when it was held down for most of a second; lets go of it when the finger slides away. */
export function HoldButton({ children, onHeld, look = "plain", wide = false, big = false, class: more = "", name }: HoldProps) {
  const { handlers, sure } = useHold(onHeld);
  if (useReading()) return null;
  return (
    <button type="button" class={classes(look, wide, big, `hold ${more}`)} aria-label={name} aria-description={t("hold.how")} {...handlers}>
      <span>{children}</span>
      {sure && <span class="unseen" role="status">{t("hold.sure", { what: name ?? "" })}</span>}
    </button>
  );
}
