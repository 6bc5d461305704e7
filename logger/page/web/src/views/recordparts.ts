// What the views of a scope record share: where it is from, what it says in words, its
// figures beside those of another, and the fields to choose by.

import type { ScopeRecord } from "../api/shapes";
import { dayAndTime, timeOfDay } from "../clock";
import { h, set } from "../dom";
import { record as texts, states } from "../texts";

/** Where a record is from, and when it was taken. */
export function recordCaption(r: ScopeRecord): string {
  const what = r.round ? texts.fromRound(r.round) : r.soak ? texts.fromSoak(r.soak) : texts.latest;
  return texts.taken(what, r.at ? `${dayAndTime(r.at)} (${timeOfDay(r.at)})` : "");
}

/** What a record says in words. */
export function recordFindings(r: ScopeRecord): HTMLElement[] {
  if (r.findings.length === 0) return [h("p", { class: "quiet" }, texts.fine)];
  return r.findings.map((f) => {
    const p = h("p", { class: "finding" }, h("b", {}, states[f.state] ?? f.state), ` ${f.text} `, f.advice);
    set(p, "data-state", f.state);
    return p;
  });
}

/** A record's figures, with those of the one under it. */
export function recordFigures(latest: ScopeRecord, under: ScopeRecord | null): HTMLElement {
  const before = new Map(under?.figures.map((f) => [f.measure, f.text]));
  return h("table", {},
    h("thead", {}, h("tr", {}, h("th", {}, texts.measure), h("th", { class: "num" }, texts.value), under ? h("th", { class: "num" }, under.round ?? "") : "")),
    h("tbody", {}, ...latest.figures.map((f) => h("tr", {}, h("td", {}, f.measure), h("td", { class: "num" }, f.text), under ? h("td", { class: "num under" }, before.get(f.measure) ?? "") : ""))));
}

/** The record that lies under the latest; none where a round's record is itself the latest. */
export function underOf([latest, under]: ScopeRecord[]): ScopeRecord | null {
  return under && under.at !== latest?.at ? under : null;
}

export function choice(options: [string, string][], change: () => void): HTMLSelectElement {
  return h("select", { onchange: change }, ...options.map(([value, label]) => h("option", { value }, label)));
}

export function labelled(text: string, control: HTMLElement): HTMLElement {
  return h("label", { class: "field" }, h("span", {}, text), control);
}
