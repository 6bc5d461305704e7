// A lane whose soak is over: its tape as it was, its verdict and why.

import type { Verdict } from "../api/shapes";
import { dayAndTime, duration } from "../clock";
import { h, type Part } from "../dom";
import { Tape } from "../draw/tape";
import { to } from "../router";
import { bench as texts, outcomes, words } from "../texts";

export function finishedLane(verdict: Verdict): Part<Verdict> {
  const tape = new Tape("tall");
  const begin = Date.parse(verdict.begin);
  tape.update({ begin, plannedEnd: begin + verdict.planned_s * 1000, until: Date.parse(verdict.end), gaps: [], excursions: verdict.excursions,
    label: texts.tape(verdict.unit, words.percent(1), verdict.excursions.length, 0) });
  const element = h("article", { class: "lane finished", "aria-label": verdict.unit },
    h("div", { class: "lane-head" },
      h("div", { class: "who" },
        h("h2", {}, h("a", { href: to("soak", verdict.soak) }, verdict.unit)),
        h("p", {}, `${verdict.console}, ${texts.at(verdict.place)}`)),
      h("div", { class: "run" }, tape.element,
        h("p", {}, h("span", {}, texts.ended(dayAndTime(verdict.end))), h("span", {}, duration(verdict.planned_s)), h("span", {}, texts.evidence(words.percent(verdict.evidence_ratio))))),
      h("p", { class: "stamp", "data-outcome": verdict.outcome }, outcomes[verdict.outcome])),
    verdict.reasons.length > 0 && h("ul", { class: "reasons" }, ...verdict.reasons.map((reason) => h("li", {}, reason))));
  return { element, update: () => {} };
}
