// What a screen off the floor asks with: fields, choices, steppers, and a number pad big enough for gloves.
import type { ComponentChildren } from "preact";
import { useId, useRef } from "preact/hooks";
import { t } from "../words/index.ts";
import { Button, type ButtonProps } from "./press.tsx";
import { useReading } from "./reading.ts";
import { Shape } from "./shape.tsx";

interface FieldProps {
  label: string;
  value: string;
  onChange: (value: string) => void;
  hint?: string | undefined;
  wrong?: string | undefined;
  type?: "text" | "search" | "tel" | "email" | "url" | "date" | "time";
  lines?: number;
  required?: boolean;
  autocomplete?: string;
}
export function Field({ label, value, onChange, hint, wrong, type = "text", lines, required = false, autocomplete = "off" }: FieldProps) {
  const id = useId();
  const said = [hint && `${id}-hint`, wrong && `${id}-wrong`].filter(Boolean).join(" ") || undefined;
  const shared = { id, value, required, autocomplete, disabled: useReading(), "aria-describedby": said, "aria-invalid": wrong ? true : undefined, autocapitalize: type === "text" ? ("sentences" as const) : ("off" as const) } satisfies Record<string, unknown>;
  return (
    <div class="field">
      <label for={id}>{label}</label>
      {hint && <span class="hint" id={`${id}-hint`}>{hint}</span>}
      {lines
        ? <textarea {...shared} rows={lines} spellcheck={false} onInput={(e) => onChange(e.currentTarget.value)} />
        : <input {...shared} {...({ type } as { type: "text" })} spellcheck={false} onInput={(e) => onChange(e.currentTarget.value)} />}
      {wrong && <span class="wrong" id={`${id}-wrong`}>{wrong}</span>}
    </div>
  );
}

/** One of a few, all of them in sight. */
export function Choice<T extends string>({ label, value, options, onChange }: { label: string; value: T | undefined; options: readonly { value: T; text: ComponentChildren }[]; onChange: (value: T) => void }) {
  const name = useId();
  return (
    <fieldset class="field" disabled={useReading()} style={{ border: 0, padding: 0, margin: 0, minWidth: 0 }}>
      <legend class="label" style={{ padding: 0, marginBottom: "0.375rem", fontWeight: 600 }}>{label}</legend>
      <div class="choice">
        {options.map((option) => (
          <label key={option.value}>
            <input type="radio" name={name} value={option.value} checked={option.value === value} onChange={() => onChange(option.value)} />
            <span>{option.text}</span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}

interface StepperProps { label: string; value: number; step: number; min?: number; max?: number; show: (value: number) => string; onChange: (value: number) => void }
export function Stepper({ label, value, step, min = 0, max = Number.MAX_SAFE_INTEGER, show, onChange }: StepperProps) {
  const id = useId();
  const by = (n: number) => onChange(Math.min(max, Math.max(min, value + n)));
  return (
    <div class="field" role="group" aria-labelledby={id}>
      <span class="label" id={id}>{label}</span>
      <div class="stepper">
        <Button label={t("step.less", { what: label })} disabled={value <= min} onPress={() => by(-step)}><Shape of="minus" size={32} /></Button>
        <output aria-live="polite">{show(value)}</output>
        <Button label={t("step.more", { what: label })} disabled={value >= max} onPress={() => by(step)}><Shape of="plus" size={32} /></Button>
      </div>
    </div>
  );
}

/** A number as it is typed, digit by digit: `value` is text such as "37.5", always with a point; `decimals` after it. */
export function NumberPad({ label, value, unit, decimals = 0, most = 6, onChange }: { label: string; value: string; unit?: string; decimals?: number; most?: number; onChange: (value: string) => void }) {
  const type = (key: string) => {
    const next = key === "." ? (value.includes(".") ? value : `${value || "0"}.`) : value === "0" ? key : value + key;
    const after = next.split(".")[1] ?? "";
    if (after.length <= decimals && next.length <= most + (decimals ? 1 : 0)) onChange(next);
  };
  const point = (1.1).toLocaleString(document.documentElement.lang).charAt(1);
  return (
    <div class="field" role="group" aria-label={label}>
      <span class="label">{label}</span>
      <output class="pad-shown" aria-live="polite">{value.replace(".", point) || "0"}{unit && <small> {unit}</small>}</output>
      <div class="pad">
        {["1", "2", "3", "4", "5", "6", "7", "8", "9"].map((key) => <Button key={key} onPress={() => type(key)}>{key}</Button>)}
        {decimals > 0 ? <Button onPress={() => type(".")}>{point}</Button> : <Button label={t("pad.clear")} onPress={() => onChange("")}>C</Button>}
        <Button onPress={() => type("0")}>0</Button>
        <Button label={t("pad.erase")} onPress={() => onChange(value.slice(0, -1))}>⌫</Button>
      </div>
    </div>
  );
}
/** What the pad shows as a whole number of thousandths; undefined while it is no number. */
export const thousandths = (text: string) => (text === "" || !Number.isFinite(Number(text)) ? undefined : Math.round(Number(text) * 1000));

type FileProps = Pick<ButtonProps, "look" | "big" | "busy"> & { label: string; accept: string; capture?: "environment"; onFile: (file: File) => void };
/** A button for a file of this device, or for a picture that its camera takes now. */
export function FileButton({ label, accept, capture, onFile, ...button }: FileProps) {
  const input = useRef<HTMLInputElement>(null);
  const chosen = ({ currentTarget: { files } }: { currentTarget: HTMLInputElement }) => {
    const file = files?.[0];
    // The same one may be chosen again.
    if (input.current) input.current.value = "";
    if (file) onFile(file);
  };
  return (
    <>
      <input ref={input} type="file" hidden accept={accept} capture={capture} aria-label={label} onChange={chosen} />
      <Button wide {...button} onPress={() => input.current?.click()}>{label}</Button>
    </>
  );
}

/** Fields that are sent together, by a button or by Enter. */
export function Form({ children, onSubmit }: { children: ComponentChildren; onSubmit: () => void }) {
  return <form class="stack" style={{ gap: "1.25rem" }} onSubmit={(e) => { e.preventDefault(); onSubmit(); }}>{children}</form>;
}
