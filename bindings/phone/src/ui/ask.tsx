// Asking without typing: chips to pick from, reasons, folded parts.
import type { Told } from "@tailcomb/web/types";
import type { ComponentChildren } from "preact";
import { useId, useState } from "preact/hooks";
import type { StationError } from "@tailcomb/web";
import { t } from "../words/index.ts";
import { told } from "../words/told.ts";
import { Field } from "./form.tsx";
import { Sheet, Trouble } from "./frame.tsx";
import { Button, HoldButton } from "./press.tsx";
import { useReading } from "./reading.ts";
import { Shape } from "./shape.tsx";

/** One of the usual words by a tap, or another one by typing. `options`: what is kept, and how it is shown. */
export function Pick({ label, value, options, onChange, hint }: { label: string; value: string; options: readonly { value: string; text: string }[]; onChange: (value: string) => void; hint?: string }) {
  const name = useId();
  const known = options.some((one) => one.value === value);
  const [typing, setTyping] = useState(!known && value !== "");
  const other = typing || (!known && value !== "");
  return (
    <div class="stack near">
      <fieldset class="field bare" disabled={useReading()}>
        <legend class="label">{label}</legend>
        {hint && <span class="hint">{hint}</span>}
        <div class="choice">
          {options.map((option) => (
            <label key={option.value}>
              <input type="radio" name={name} checked={!other && option.value === value} onChange={() => { setTyping(false); onChange(option.value); }} />
              <span>{option.text}</span>
            </label>
          ))}
          <label>
            <input type="radio" name={name} checked={other} onChange={() => { setTyping(true); if (known) onChange(""); }} />
            <span>{t("pick.other")}</span>
          </label>
        </div>
      </fieldset>
      {other && <Field label={t("pick.words", { what: label })} value={value} onChange={onChange} />}
    </div>
  );
}

interface ReasonProps { title: string; lead?: ComponentChildren; usual?: readonly string[]; go: string; grave?: boolean; needed?: boolean; error: StationError | undefined; onGo: (why: string) => void; onClose: () => void }
/** Asks why, and does it when the button was held. */
export function Reason({ title, lead, usual = [], go, grave = false, needed = true, error, onGo, onClose }: ReasonProps) {
  const [why, setWhy] = useState("");
  return (
    <Sheet title={title} onClose={onClose}>
      {lead}
      {usual.length > 0 ? <Pick label={t("why.label")} value={why} options={usual.map((text) => ({ value: text, text }))} onChange={setWhy} /> : <Field label={t("why.label")} value={why} onChange={setWhy} />}
      <Trouble error={error} />
      {needed && !why.trim()
        ? <Button wide big disabled>{t("why.first")}</Button>
        : <HoldButton wide big look={grave ? "grave" : "plain"} name={go} onHeld={() => onGo(why.trim())}>{t("hold.to", { what: go })}</HoldButton>}
    </Sheet>
  );
}

/** A part that opens. */
export const Fold = ({ title, children, open = false }: { title: ComponentChildren; children: ComponentChildren; open?: boolean }) => (
  <details class="fold" open={open}>
    <summary><Shape of="next" size={20} /><span>{title}</span></summary>
    <div class="stack">{children}</div>
  </details>
);

/** A group of a screen under its heading. */
export const Part = ({ title, beside, children }: { title: string; beside?: ComponentChildren; children: ComponentChildren }) => (
  <section class="stack near"><div class="part-head"><h2>{title}</h2>{beside}</div>{children}</section>
);

/** What the core says beside work that can hurt. */
export const Cautions = ({ of }: { of: readonly Told[] }) =>
  of.length === 0 ? null : (
    <div class="note cautions"><Shape of="warn" /><ul class="stack near">{of.map((one) => <li key={one.text}>{told(one)}</li>)}</ul></div>
  );
