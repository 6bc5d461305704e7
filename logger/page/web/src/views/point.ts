// One test point of a lane: its name and state, its tape, where it went lately, its
// bracket and its figure.

import type { Check, Soak } from "../api/shapes";
import { timeOfDay } from "../clock";
import { h, type Part, say, set } from "../dom";
import { Bracket } from "../draw/bracket";
import { FigureText } from "../draw/figure";
import { Tape } from "../draw/tape";
import { Trend } from "../draw/trend";
import { recent } from "../live/recent";
import { store } from "../live/store";
import { bench as texts, states, words } from "../texts";

export function checkName(check: { test_point: string; measure: string }): string {
  return `${check.test_point} ${check.measure}`;
}

export class PointRow implements Part<Check> {
  readonly element: HTMLElement;
  private readonly state = h("span", { class: "state" });
  private readonly when = h("span", { class: "when" });
  private readonly tape: Tape;
  private readonly trend = new Trend();
  private readonly bracket = new Bracket();
  private readonly figure = new FigureText();

  constructor(
    check: Check,
    private readonly soak: () => Soak,
    onPick: (from: number, to: number) => void,
  ) {
    this.tape = new Tape("thin", onPick);
    this.element = h("li", { class: "point" },
      h("span", { class: "name" }, h("b", {}, check.test_point), " ", h("span", { class: "measure" }, check.measure)),
      h("span", { class: "says" }, this.state, this.when),
      this.tape.element, this.trend.element, this.bracket.element, this.figure.element);
  }

  update(check: Check): void {
    const soak = this.soak();
    set(this.element, "data-state", check.state);
    set(this.element, "data-at", check.at);
    say(this.state, states[check.state]);
    const fresh = store.connected && check.state !== "silent";
    set(this.element, "data-stale", !fresh);
    say(this.when, fresh || check.at === null ? "" : words.last(timeOfDay(check.at)));
    this.bracket.update(check);
    this.figure.update(check.text, check.state === "outside");
    const now = Date.parse(store.bench!.at);
    this.trend.update(recent(soak, check), now, check.low, check.high);
    this.tape.update({ begin: Date.parse(soak.begin), plannedEnd: Date.parse(soak.planned_end), until: now, gaps: check.gaps,
      excursions: check.excursions, label: texts.pointTape(checkName(check), check.excursions.length, check.gaps.length) });
  }
}
