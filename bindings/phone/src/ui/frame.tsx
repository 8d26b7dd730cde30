// The frame of every screen, and the states that every list has: waiting, empty, refused.
import type { ComponentChildren, ComponentChild } from "preact";
import { useEffect, useRef } from "preact/hooks";
import type { StationError } from "@tailcomb/web";
import type { Live } from "../live.ts";
import { screenTitle } from "../title.ts";
import { status } from "../status.ts";
import { t } from "../words/index.ts";
import { refused } from "../words/told.ts";
import { Button } from "./press.tsx";
import { Reading, useReading } from "./reading.ts";
import { Shape, type ShapeName } from "./shape.tsx";

interface ScreenProps {
  title: string;
  /** Where back leads; by default the floor. `null`: there is no way back. */
  back?: string | null;
  /** Beside the title. */
  beside?: ComponentChildren;
  children: ComponentChildren;
  /** Without the line that says how the station stands: there is no station yet. */
  bare?: boolean;
}
export function Screen({ title, back = "#/", beside, children, bare = false }: ScreenProps) {
  const main = useRef<HTMLElement>(null);
  // Whoever comes by keyboard or screen reader starts at the content of the new screen.
  useEffect(() => {
    screenTitle.value = title;
    main.current?.focus({ preventScroll: true });
  }, [title]);
  return (
    <div class="screen">
      <header>
        {back === null ? <span style={{ width: "0.5rem" }} /> : <a class="back" href={back} aria-label={t("nav.back")}><Shape of="back" size={28} /></a>}
        <h1 class="title">{title}</h1>
        {beside}
      </header>
      <main ref={main} tabIndex={-1} id="content">{children}</main>
      {!bare && <StatusLine />}
    </div>
  );
}

/** How this station stands, in words; on every screen. */
export function StatusLine() {
  const { text, matters } = status.value;
  return <footer class={matters ? "status matters" : "status"}>{text}</footer>;
}

export const Waiting = ({ what = t("wait.reading") }: { what?: string }) => (
  <div class="waiting" role="status">
    <span class="teeth" aria-hidden="true"><i /><i /><i /><i /><i /></span>
    <span>{what}</span>
  </div>
);

export const Empty = ({ shape = "comb", children }: { shape?: ShapeName; children: ComponentChildren }) => (
  <div class="empty"><Shape of={shape} size={40} /><div>{children}</div></div>
);

/** Why something was refused. */
export function Trouble({ error, again }: { error: StationError | undefined; again?: () => void }) {
  if (!error) return null;
  return (
    <div class="note off" role="alert">
      <Shape of="warn" />
      <div class="stack near">
        <strong>{t("trouble.title")}</strong>
        <span>{refused(error)}</span>
        {again && <div><Button onPress={again}>{t("do.again")}</Button></div>}
      </div>
    </div>
  );
}

/** Something to be heeded. `look`: to be looked at; `off`: grave. */
export const Note = ({ kind = "plain", shape, children }: { kind?: "plain" | "look" | "off"; shape?: ShapeName; children: ComponentChildren }) => (
  <div class={kind === "plain" ? "note" : `note ${kind}`}>
    <Shape of={shape ?? (kind === "plain" ? "asks" : "warn")} />
    <div class="stack near">{children}</div>
  </div>
);

/** Shows what was asked for, or how far it is; within the frame of a screen, where the whole screen is made of the answer. */
export function Show<T>({ live, within, children }: { live: Live<T>; within?: { title: string; back?: string }; children: (value: T) => ComponentChild }) {
  if (live.state === "here") return <>{children(live.value)}</>;
  if (live.state === "refused" && live.value !== undefined) return <><Trouble error={live.error} />{children(live.value)}</>;
  const far = live.state === "waiting" ? <Waiting /> : live.error.code === "not-found" ? <Empty shape="asks">{t("trouble.gone")}</Empty> : <Trouble error={live.error} />;
  return within ? <Screen {...within}>{far}</Screen> : far;
}

/** A list. */
export const Rows = ({ children, label }: { children: ComponentChildren; label?: string }) => <div class="rows" role="list" aria-label={label}>{children}</div>;

interface RowProps { title: ComponentChildren; detail?: ComponentChildren; end?: ComponentChildren; href?: string; onPress?: () => void; shape?: ShapeName }
/** One line of a list: a link, a button, or just words. */
export function Row({ title, detail, end, href, onPress, shape }: RowProps) {
  // What only reads is added to by nobody.
  if (useReading() && shape === "plus") return null;
  const inside = (
    <>
      {shape && <Shape of={shape} />}
      <span class="words"><span>{title}</span>{detail && <span>{detail}</span>}</span>
      {end && <span class="end">{end}</span>}
      {(href || onPress) && <Shape of="next" size={20} />}
    </>
  );
  return (
    <div role="listitem">
      {href ? <a class="row" href={href}>{inside}</a> : onPress ? <button type="button" class="row" onClick={onPress}>{inside}</button> : <div class="row">{inside}</div>}
    </div>
  );
}

/** A sheet over the screen: what it asks is answered or closed before anything else. One for `gloves` brings
 * its own heading and key to close. */
export function Sheet({ title, onClose, children, gloves = false }: { title: string; onClose: () => void; children: ComponentChildren; gloves?: boolean }) {
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const shown = dialog.current;
    shown?.showModal();
    return () => shown?.close();
  }, []);
  return (
    <dialog class={gloves ? "sheet for-gloves" : "sheet"} ref={dialog} aria-label={title}
      onCancel={(event) => { event.preventDefault(); onClose(); }}
      onClick={(event) => { if (event.target === event.currentTarget) onClose(); }}>
      <div class="inner">
        {!gloves && (
          <div class="head">
            <h2>{title}</h2>
            <Reading.Provider value={false}><Button look="quiet" label={t("nav.close")} onPress={onClose}><Shape of="close" /></Button></Reading.Provider>
          </div>
        )}
        {children}
      </div>
    </dialog>
  );
}
