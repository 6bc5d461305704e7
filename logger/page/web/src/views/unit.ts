// A unit: its notes, its soaks and rounds, what changed between two of them, and its
// way over the months.

import { get, part, post } from "../api/client";
import type { Comparison, Round, SoakRecord, Unit } from "../api/shapes";
import { day, dayAndTime, duration } from "../clock";
import { ask, sentence } from "../dialog";
import { h } from "../dom";
import { to } from "../router";
import { outcomes, shell, states, unit as texts } from "../texts";
import type { View } from "../view";
import { fillHistory } from "./history";
import { takeRound } from "./round";

export function unitView(args: string[]): View {
  const unit = args[0] ?? "";
  const element = h("section", { class: "unit-view" }, h("p", { class: "quiet" }, shell.loading));
  void fill(unit, element);
  return { element, title: texts.title(unit) };
}

async function fill(name: string, element: HTMLElement): Promise<void> {
  try {
    const path = `/api/v1/units/${part(name)}`;
    const [unit, soaks, rounds] = await Promise.all([get<Unit>(path), get<SoakRecord[]>(`/api/v1/soaks?unit=${part(name)}`), get<Round[]>(`${path}/rounds`)]);
    const again = (): void => void fill(name, element);
    const history = h("div", {}, h("p", { class: "quiet" }, shell.loading));
    element.replaceChildren(head(unit, soaks), notes(unit, again), soakTable(soaks), roundTable(unit, rounds, element, again), comparison(name, rounds),
      h("section", { class: "block" }, h("h2", {}, texts.history), history));
    await fillHistory(name, history);
  } catch (error) {
    element.replaceChildren(h("p", { class: "trouble", role: "alert" }, sentence(error)));
  }
}

function head(unit: Unit, soaks: SoakRecord[]): HTMLElement {
  const judged = soaks.some((s) => s.outcome);
  return h("header", { class: "view-head" },
    h("div", {}, h("h1", {}, unit.unit), h("p", { class: "quiet" }, texts.since(unit.console, unit.added ? day(unit.added) : ""))),
    h("p", { class: "buttons" }, ...(["video", "audio", "charge", "final"] as const).map((view) => h("a", { class: "plain", href: to(view, unit.unit) }, texts[view])),
      judged && h("a", { class: "plain", href: `/api/v1/units/${part(unit.unit)}/report`, target: "_blank", rel: "noopener" }, texts.certificate)));
}

function notes(unit: Unit, again: () => void): HTMLElement {
  const add = (): void => ask({ title: `${texts.addNote}: ${unit.unit}`, act: texts.addNote, fields: [{ name: "text", label: texts.addNote, type: "multiline", required: true }] },
    async ({ text }) => {
      await post(`/api/v1/units/${part(unit.unit)}/notes`, { text });
      again();
    });
  const list = unit.notes.length === 0 ? [h("li", { class: "quiet" }, texts.noNotes)]
    : unit.notes.toReversed().map((n) => h("li", {}, n.at ? h("time", {}, day(n.at)) : "", n.text));
  return h("section", { class: "block" }, h("h2", {}, texts.notes), h("ul", { class: "log" }, ...list), h("p", {}, h("button", { type: "button", class: "plain", onclick: add }, texts.addNote)));
}

function soakTable(soaks: SoakRecord[]): HTMLElement {
  const { columns } = texts;
  const rows = soaks.toSorted((a, b) => b.soak - a.soak).map((s) => h("tr", {},
    h("td", {}, h("a", { href: to("soak", s.soak) }, `${s.soak}`)), h("td", {}, dayAndTime(s.begin)), h("td", {}, duration(s.planned_s)),
    h("td", {}, h("span", { class: "verdict", "data-outcome": s.outcome ?? "" }, s.outcome ? outcomes[s.outcome] : s.end ? texts.stopped : texts.running), s.reason ? ` ${s.reason}` : "")));
  return h("section", { class: "block" }, h("h2", {}, texts.soaks), rows.length === 0 ? h("p", { class: "quiet" }, texts.noSoaks)
    : h("table", { class: "stacking" }, h("thead", {}, h("tr", {}, h("th", {}, columns.soak), h("th", {}, columns.begin), h("th", {}, columns.long), h("th", {}, columns.verdict))), h("tbody", {}, ...rows)));
}

function roundTable(unit: Unit, rounds: Round[], element: HTMLElement, again: () => void): HTMLElement {
  const { columns } = texts;
  const rows = rounds.map((r) => {
    const asked = r.figures.filter((f) => f.asked);
    const wrong = asked.filter((f) => f.state === "outside" || f.state === "borderline");
    const missing = asked.filter((f) => f.value === null).length;
    const worst = [...wrong.map((f) => `${f.test_point} ${f.measure} ${f.text} ${states[f.state!]}`), ...(missing > 0 ? [texts.missing(missing)] : [])].join("; ") || texts.allWithin;
    return h("tr", {}, h("td", {}, r.label), h("td", {}, dayAndTime(r.begin)), h("td", { class: "num", "data-label": columns.figures }, r.figures.filter((f) => f.value !== null).length), h("td", { class: wrong.length > 0 ? "trouble" : "quiet" }, worst));
  });
  const take = (): void => ask({ title: texts.roundTitle(unit.unit), act: texts.roundNow, fields: [{ name: "label", label: texts.roundLabel, hint: texts.roundHint, required: true }] },
    async ({ label }) => takeRound(unit.unit, label!, element, again));
  return h("section", { class: "block" }, h("h2", {}, texts.rounds), rows.length === 0 ? h("p", { class: "quiet" }, texts.noRounds)
    : h("table", { class: "stacking" }, h("thead", {}, h("tr", {}, h("th", {}, columns.label), h("th", {}, columns.at), h("th", { class: "num" }, columns.figures), h("th", {}, columns.worst))), h("tbody", {}, ...rows)),
  h("p", {}, h("button", { type: "button", class: "doing", onclick: take }, texts.takeRound)));
}

/** Two rounds side by side, the last two to begin with. */
function comparison(unit: string, rounds: Round[]): HTMLElement {
  if (rounds.length < 2) return h("span");
  const pick = (label: string, chosen: number): HTMLSelectElement => {
    const select = h("select", { "aria-label": label, onchange: () => void compare() }, ...rounds.map((r) => h("option", { value: r.label }, r.label)));
    select.selectedIndex = chosen;
    return select;
  };
  const before = pick(texts.before, rounds.length - 2);
  const after = pick(texts.after, rounds.length - 1);
  const body = h("div");
  void compare();
  return h("section", { class: "block" }, h("h2", {}, texts.compare), h("div", { class: "pair" }, h("label", {}, h("span", {}, texts.before), before), h("label", {}, h("span", {}, texts.after), after)), body);

  async function compare(): Promise<void> {
    try {
      const answer = await get<Comparison>(`/api/v1/units/${part(unit)}/comparison?${new URLSearchParams({ before: before.value, after: after.value })}`);
      body.replaceChildren(h("table", { class: "stacking" },
        h("thead", {}, h("tr", {}, h("th", {}, texts.test_point), h("th", { class: "num" }, texts.before), h("th", { class: "num" }, texts.after), h("th", { class: "num" }, texts.change), h("th", {}, texts.meaning))),
        h("tbody", {}, ...answer.lines.map((l) => h("tr", { class: l.told ? "told" : "" }, h("td", {}, `${l.test_point} ${l.measure}`), h("td", { class: "num", "data-label": texts.before }, l.before.text),
          h("td", { class: "num", "data-label": texts.after }, l.after.text), h("td", { class: "num", "data-label": texts.change }, l.text), h("td", {}, l.meaning ?? ""))))));
    } catch (error) {
      body.replaceChildren(h("p", { class: "trouble", role: "alert" }, sentence(error)));
    }
  }
}
