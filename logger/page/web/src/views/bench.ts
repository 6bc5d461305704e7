// The bench at a glance: a lane for each unit, the worst first.

import type { Bench, Soak, Unit, Verdict } from "../api/shapes";
import { get, post } from "../api/client";
import { ask } from "../dialog";
import { h, Parts, show } from "../dom";
import { worstSoaksFirst } from "../draw/order";
import { remember } from "../live/recent";
import { store } from "../live/store";
import { bench as texts } from "../texts";
import type { View } from "../view";
import { finishedLane } from "./finished";
import { Lane } from "./lane";

export function benchView(): View {
  const lanes = h("div", { class: "lanes" });
  const ended = h("div", { class: "lanes" });
  const empty = h("p", { class: "empty", hidden: true }, texts.nothing);
  const soaks = new Parts<Soak>(lanes, (s) => String(s.soak), (s) => new Lane(s));
  const verdicts = new Parts<Verdict>(ended, (v) => String(v.soak), finishedLane);
  const element = h("section", { class: "bench-view" }, h("h1", { class: "heard-only" }, texts.title), empty, lanes, ended,
    h("p", { class: "foot" }, h("button", { type: "button", class: "doing", onclick: () => void beginSoak() }, texts.begin), h("small", {}, texts.trendNote)));
  return {
    element,
    title: texts.title,
    update(bench: Bench) {
      remember(bench);
      soaks.update(worstSoaksFirst(bench.soaks));
      verdicts.update(bench.finished);
      show(empty, bench.soaks.length + bench.finished.length === 0);
    },
  };
}

async function beginSoak(): Promise<void> {
  const busy = new Set(store.bench?.soaks.map((s) => s.unit));
  const units = (await get<Unit[]>("/api/v1/units")).filter((u) => !busy.has(u.unit));
  const taken = new Map(store.bench?.soaks.map((s) => [s.place, s.unit]));
  const places = store.bench?.places ?? [];
  ask({ title: texts.beginTitle, act: texts.beginNow,
    body: [h("p", { class: "caution" }, units.length > 0 ? texts.caution : texts.noUnits)],
    fields: [
      { name: "unit", label: texts.unit, required: true, choices: units.map((u) => ({ value: u.unit, label: `${u.unit}  ${u.console}` })) },
      { name: "place", label: texts.place, choices: [{ value: "", label: texts.anyPlace }, ...places.filter((p) => !taken.has(p)).map((p) => ({ value: p, label: p }))] },
      { name: "hours", label: texts.length, hint: texts.lengthHint, type: "number" },
    ] },
  (a) => post("/api/v1/soaks", { unit: a.unit, ...(a.place ? { place: a.place } : {}), ...(a.hours ? { for_s: Number(a.hours) * 3600 } : {}) }));
}
