// The figures of the line: how many units pass first time and how sure that is, what
// fails, how units lie within their limits, and which have come back.

import { get } from "../api/client";
import type { LineFigures, Spread } from "../api/shapes";
import { day, duration } from "../clock";
import { sentence } from "../dialog";
import { h, set, svg } from "../dom";
import { Bracket } from "../draw/bracket";
import { to } from "../router";
import { line as texts, outcomes, shell, words } from "../texts";
import type { View } from "../view";

export function lineView(): View {
  const body = h("div", {}, h("p", { class: "quiet" }, shell.loading));
  const since = h("select", { onchange: () => void fill(body, since.value) }, ...Object.entries(texts.spans).map(([value, label]) => h("option", { value }, label)));
  since.value = "90d";
  const element = h("section", { class: "line-view" }, h("header", { class: "view-head" }, h("h1", {}, texts.title), h("label", { class: "field since" }, h("span", {}, texts.since), since)), body);
  void fill(body, since.value);
  return { element, title: texts.title };
}

async function fill(body: HTMLElement, since: string): Promise<void> {
  try {
    const figures = await get<LineFigures>(`/api/v1/line${since ? `?since=${since}` : ""}`);
    if (figures.units === 0 && figures.spreads.length === 0) return body.replaceChildren(h("p", { class: "empty" }, texts.none));
    body.replaceChildren(passed(figures), h("div", { class: "pair wide" }, tally(texts.fails, texts.noFails, figures.fails, figures.units), tally(texts.diagnoses, texts.noDiagnoses, figures.diagnoses, figures.units)), spreads(figures.spreads), returned(figures));
  } catch (error) {
    body.replaceChildren(h("p", { class: "trouble", role: "alert" }, sentence(error)));
  }
}

function passed(f: LineFigures): HTMLElement {
  const { yield_interval: i } = f;
  return h("div", { class: "yield" },
    h("p", { class: "yield-figure" }, h("b", {}, f.yield_ratio === null ? words.notKnown : percent(f.yield_ratio)), h("span", {}, f.yield_ratio === null ? "" : texts.yield)),
    h("div", {}, yieldRuler(f), h("p", {}, texts.of(f.passed_first_time, f.units), "; ", texts.others(f.failed_first_time, f.undecided_first_time, f.passed_later)),
      i && h("p", { class: "quiet" }, texts.interval(percent(i.low), percent(i.high), percent(f.confidence_ratio), f.yield_interval_by)),
      f.rolled_yield_ratio !== null && h("p", { class: "quiet" }, texts.rolled(percent(f.rolled_yield_ratio))),
      f.soaks > 0 && h("p", { class: "quiet" }, texts.soaks(f.soaks, f.soaked_units, duration(f.soak_s), duration(f.median_soak_per_unit_s)))));
}

/** The yield from none to all, with how sure it is. */
function yieldRuler(f: LineFigures): SVGSVGElement {
  const width = 600;
  const x = (ratio: number): number => 6 + (width - 12) * ratio;
  const ruler = svg("svg", { class: "bracket ruler-drawing", viewBox: `0 0 ${width} 30`, role: "img", "aria-label": texts.of(f.passed_first_time, f.units) },
    svg("path", { class: "end", d: "M12 3H6v24h6" }), svg("path", { class: "end", d: `M${width - 12} 3h6v24h-6` }));
  if (f.yield_interval) ruler.append(svg("rect", { class: "guard", x: x(f.yield_interval.low), y: 8, width: x(f.yield_interval.high) - x(f.yield_interval.low), height: 14 }));
  if (f.yield_ratio !== null) ruler.append(svg("path", { class: "tick", d: `M${x(f.yield_ratio)} 3v24` }));
  return ruler;
}

function tally(title: string, none: string, counts: { name: string; units: number }[], units: number): HTMLElement {
  const most = Math.max(1, units, ...counts.map((c) => c.units));
  return h("section", { class: "block" }, h("h2", {}, title), counts.length === 0 ? h("p", { class: "quiet" }, none)
    : h("ul", { class: "tally" }, ...counts.map((c) => h("li", {}, h("span", {}, c.name), svg("svg", { class: "bar", "aria-hidden": "true" }, svg("rect", { width: `${(100 * c.units) / most}%`, height: "100%" })), h("b", {}, c.units)))));
}

function spreads(all: Spread[]): HTMLElement {
  const { columns } = texts;
  if (all.length === 0) return h("span");
  let console = "";
  const rows = all.flatMap((s) => {
    const heading = s.console === console ? [] : [h("tr", { class: "group-row" }, h("th", { colspan: 6, scope: "colgroup" }, s.console))];
    console = s.console;
    return [...heading, spread(s)];
  });
  return h("section", { class: "block" }, h("h2", {}, texts.spreads), h("p", { class: "quiet" }, texts.spreadsNote),
    h("table", { class: "stacking" }, h("thead", {}, h("tr", {}, h("th", {}, columns.where), h("th", { class: "num" }, columns.units), h("th", { class: "num" }, columns.mean), h("th", { class: "num" }, columns.sd),
      h("th", {}, columns.place), h("th", { class: "num" }, columns.cpk))), h("tbody", {}, ...rows)));
}

function spread(s: Spread): HTMLElement {
  const bracket = new Bracket();
  const outside = s.mean !== null && ((s.low !== null && s.mean < s.low) || (s.high !== null && s.mean > s.high));
  bracket.update({ state: s.mean === null ? "silent" : outside ? "outside" : "within", figure: s.mean, low: s.low, high: s.high, trail_low: s.lowest, trail_high: s.highest });
  set(bracket.element, "aria-label", texts.place(`${s.test_point} ${s.measure}`, String(s.lowest), String(s.highest)));
  const cpk = s.cpk === null ? "" : `${s.cpk.toFixed(2)}${s.cpk_interval ? ` [${s.cpk_interval.low.toFixed(2)}, ${s.cpk_interval.high.toFixed(2)}]` : ""}`;
  const suggested = s.suggested_yaml ? h("details", {}, h("summary", {}, texts.suggested), h("p", { class: "quiet" }, texts.suggestedNote), h("pre", {}, s.suggested_yaml)) : "";
  return h("tr", {}, h("td", {}, h("b", {}, s.test_point), " ", h("span", { class: "measure" }, s.measure), suggested), h("td", { class: "num", "data-label": texts.columns.units }, s.units),
    h("td", { class: "num", "data-label": texts.columns.mean }, s.mean_text), h("td", { class: "num", "data-label": texts.columns.sd }, s.sd_text), h("td", { class: "place" }, bracket.element),
    h("td", { class: "num", "data-label": texts.columns.cpk }, cpk));
}

function returned(f: LineFigures): HTMLElement {
  return h("section", { class: "block" }, h("h2", {}, texts.returned), f.returned.length === 0 ? h("p", { class: "quiet" }, texts.noReturned)
    : h("ul", { class: "log" }, ...f.returned.map((r) => h("li", {}, h("a", { href: to("unit", r.unit) }, r.unit), ` ${r.console}: ${texts.cameBack(day(r.passed), day(r.again))} `,
      r.outcome ? h("span", { class: "verdict", "data-outcome": r.outcome }, outcomes[r.outcome]) : ""))));
}

function percent(ratio: number): string {
  return `${Number((100 * ratio).toFixed(1))} %`;
}
