// Asking before something is lost, and for what is to be said.

import { Refused } from "./api/client";
import { type Child, h, say } from "./dom";
import { shell } from "./texts";

/** One thing that a dialog asks for. */
export interface Field {
  name: string;
  label: string;
  hint?: string;
  required?: boolean;
  type?: "text" | "number" | "multiline";
  value?: string;
  choices?: { value: string; label: string }[];
}

export interface Question {
  title: string;
  /** What it means, and what is lost. */
  body?: Child[];
  fields?: Field[];
  /** The word on the button that does it. */
  act: string;
  /** Whether it loses something: then leaving it is what the Enter key does. */
  loses?: boolean;
}

/** Asks, and does what was asked for. The dialog stays until that has been done or
 * left; a refusal is shown in it. Where doing it gives a function, that is called once
 * the dialog has gone and can no longer take the focus. */
export function ask(question: Question, act: (answers: Record<string, string>) => Promise<unknown>): void {
  const trouble = h("p", { class: "trouble", role: "alert", hidden: true });
  const leave = h("button", { type: "button", class: "plain" }, shell.cancel);
  const doIt = h("button", { type: "submit", class: question.loses ? "losing" : "doing" }, question.act);
  const inputs = new Map((question.fields ?? []).map((f) => [f.name, input(f)]));
  const form = h("form", { method: "dialog" },
    h("h2", { id: "dialog-title" }, question.title), ...(question.body ?? []),
    ...(question.fields ?? []).map((f) => h("label", {}, h("span", {}, f.label), inputs.get(f.name)!, f.hint ? h("small", {}, f.hint) : null)),
    trouble, h("p", { class: "buttons" }, leave, doIt));
  const dialog = h("dialog", { "aria-labelledby": "dialog-title" }, form);
  leave.addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", () => dialog.remove());
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    doIt.disabled = true;
    try {
      const then = await act(Object.fromEntries([...inputs].map(([name, i]) => [name, i.value.trim()])));
      dialog.close();
      if (typeof then === "function") then();
    } catch (error) {
      trouble.hidden = false;
      say(trouble, sentence(error));
    } finally {
      doIt.disabled = false;
    }
  });
  document.body.append(dialog);
  dialog.showModal();
  (question.loses && inputs.size === 0 ? leave : ([...inputs.values()][0] ?? doIt)).focus();
}

function input(f: Field): HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement {
  if (f.choices) {
    const select = h("select", { name: f.name, required: f.required ?? false }, ...f.choices.map((c) => h("option", { value: c.value }, c.label)));
    if (f.value !== undefined) select.value = f.value;
    return select;
  }
  if (f.type === "multiline") return h("textarea", { name: f.name, required: f.required ?? false, rows: 3 }, f.value);
  return h("input", { name: f.name, required: f.required ?? false, value: f.value ?? "", autocomplete: "off",
    ...(f.type === "number" ? { inputmode: "decimal", pattern: "[0-9]*[.]?[0-9]*" } : {}) });
}

/** What went wrong, for a person. */
export function sentence(error: unknown): string {
  if (error instanceof Refused) return error.status === 0 ? shell.unreachable : error.message;
  return error instanceof Error ? error.message : String(error);
}
