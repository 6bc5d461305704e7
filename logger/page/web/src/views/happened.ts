// What happened in a soak: excursions and gaps, the latest first, each a button that
// shows its time on all charts.

import type { Excursion, Gap } from "../api/shapes";
import { between, duration, timeBeside } from "../clock";
import { h, set } from "../dom";
import { figure, scaleFor } from "../number";
import { soak as texts, states } from "../texts";

/** An excursion or a gap of one check. */
export interface Happening {
  point: string;
  unit: string;
  excursion?: Excursion;
  gap?: Gap;
  from: string;
  to: string | null;
}

/** Excursions and gaps as one list, the latest first. */
export function happenings(checks: readonly { test_point: string; measure: string; unit: string; excursions: Excursion[]; gaps: Gap[] }[]): Happening[] {
  const all: Happening[] = [];
  for (const c of checks) {
    const point = `${c.test_point} ${c.measure}`;
    for (const excursion of c.excursions) all.push({ point, unit: c.unit, excursion, from: excursion.from, to: excursion.to });
    for (const gap of c.gaps) all.push({ point, unit: c.unit, gap, from: gap.from, to: gap.to });
  }
  return all.sort((a, b) => Date.parse(b.from) - Date.parse(a.from));
}

/** The list of what happened, on the page. */
export class HappenedList {
  readonly element = h("section", { class: "happened", "aria-label": texts.happened });
  private shown = "";

  constructor(private readonly look: (from: number, to: number) => void) {}

  update(all: readonly Happening[], now: string): void {
    const key = all.map((e) => `${e.point}${e.from}${e.to}${e.excursion?.worst}`).join();
    if (key === this.shown && key !== "") return;
    this.shown = key;
    if (all.length === 0) {
      this.element.replaceChildren(h("h2", {}, texts.happened), h("p", { class: "quiet" }, texts.nothing));
      return;
    }
    const { columns } = texts;
    this.element.replaceChildren(h("h2", {}, texts.happened),
      h("div", { class: "scroll", tabindex: 0, role: "group", "aria-label": texts.happened },
        h("table", {},
          h("thead", {}, h("tr", {}, h("th", {}, columns.when), h("th", {}, columns.long), h("th", {}, columns.where), h("th", {}, columns.what))),
          h("tbody", {}, ...all.map((e) => this.row(e, now))))));
  }

  private row(e: Happening, now: string): HTMLElement {
    const to = e.to ?? now;
    const from = Date.parse(e.from) / 1000;
    const until = Date.parse(to) / 1000;
    const around = Math.max(10, (until - from) * 0.6);
    const when = timeBeside(e.from, now);
    const button = h("button", { type: "button", class: "when-link", "aria-label": texts.look(e.point, when), onclick: () => this.look(from - around, until + around) }, when);
    const row = h("tr", {}, h("td", {}, button), h("td", {}, duration(between(e.from, to)), e.to === null ? `, ${texts.lasts}` : ""),
      h("td", {}, e.point), h("td", {}, this.what(e)));
    set(row, "data-state", e.excursion?.state ?? "silent");
    return row;
  }

  private what(e: Happening): string {
    if (!e.excursion) return texts.noReading(e.gap?.cause ?? "");
    const { text, limit, edge, state } = e.excursion;
    return `${states[state]}: ${texts.left(text, figure(limit, scaleFor(Math.abs(limit), e.unit)), texts.edge[edge])}`;
  }
}
