// All units of the book, and choosing one of them for another view.

import { get, post } from "../api/client";
import type { SoakRecord, Unit } from "../api/shapes";
import { day } from "../clock";
import { ask, sentence } from "../dialog";
import { h, show } from "../dom";
import { store } from "../live/store";
import { go, to } from "../router";
import { outcomes, shell, unit as unitTexts, units as texts } from "../texts";
import type { MakeView, View } from "../view";

export function unitsView(): View {
  return listView(texts.title, (unit) => to("unit", unit));
}

/** A view that asks for a unit before it can show anything. */
export function choose(view: string): MakeView {
  return () => listView(texts.choose[view] ?? texts.title, (unit) => to(view, unit));
}

function listView(title: string, address: (unit: string) => string): View {
  const body = h("div", {}, h("p", { class: "quiet" }, shell.loading));
  const element = h("section", { class: "units-view" },
    h("header", { class: "view-head" }, h("h1", {}, title), h("p", { class: "buttons" }, h("button", { type: "button", class: "doing", onclick: addUnit }, texts.add))), body);
  void fill(body, address);
  return { element, title };
}

async function fill(body: HTMLElement, address: (unit: string) => string): Promise<void> {
  try {
    const [units, soaks] = await Promise.all([get<Unit[]>("/api/v1/units"), get<SoakRecord[]>("/api/v1/soaks")]);
    body.replaceChildren(units.length === 0 ? h("p", { class: "empty" }, texts.none) : table(units, soaks, address));
  } catch (error) {
    body.replaceChildren(h("p", { class: "trouble", role: "alert" }, sentence(error)));
  }
}

function table(units: Unit[], soaks: SoakRecord[], address: (unit: string) => string): HTMLElement {
  const { columns } = texts;
  const rows = units.map((u) => ({ unit: u, element: row(u, soaks.filter((s) => s.unit === u.unit), address) }));
  const find = h("input", { type: "search", "aria-label": texts.find, placeholder: texts.find, class: "find" });
  find.addEventListener("input", () => {
    const wanted = find.value.trim().toLowerCase();
    for (const { unit, element } of rows) show(element, `${unit.unit} ${unit.console} ${unit.notes.map((n) => n.text).join(" ")}`.toLowerCase().includes(wanted));
  });
  return h("div", {}, find, h("table", { class: "stacking" },
    h("thead", {}, h("tr", {}, h("th", {}, columns.unit), h("th", {}, columns.console), h("th", {}, columns.added), h("th", { class: "num" }, columns.soaks), h("th", {}, columns.last), h("th", {}, columns.note))),
    h("tbody", {}, ...rows.map((r) => r.element))));
}

function row(u: Unit, soaks: SoakRecord[], address: (unit: string) => string): HTMLElement {
  const last = soaks.toSorted((a, b) => b.soak - a.soak)[0];
  const verdict = last?.outcome ? outcomes[last.outcome] : last ? unitTexts.running : "";
  return h("tr", {},
    h("td", {}, h("a", { class: "unit-link", href: address(u.unit) }, u.unit)), h("td", {}, u.console),
    h("td", {}, u.added ? day(u.added) : ""), h("td", { class: "num", "data-label": texts.columns.soaks }, soaks.length),
    h("td", {}, h("span", { class: "verdict", "data-outcome": last?.outcome ?? "" }, verdict)), h("td", { class: "quiet" }, u.notes.at(-1)?.text ?? ""));
}

function addUnit(): void {
  const consoles = store.bench?.consoles ?? [];
  ask({ title: texts.addTitle, act: texts.addNow, fields: [
    { name: "unit", label: texts.asset, hint: texts.assetHint, required: true },
    { name: "console", label: texts.console, hint: texts.consoleHint, required: true, ...(consoles.length > 0 ? { choices: consoles.map((c) => ({ value: c, label: c })) } : {}) },
    { name: "note", label: texts.notes, hint: texts.notesHint, type: "multiline" },
  ] }, async ({ unit, console: model, note }) => {
    await post("/api/v1/units", { unit, console: model, notes: note ? [{ text: note }] : [] });
    go("unit", unit!);
  });
}
