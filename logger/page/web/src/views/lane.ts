// A unit's lane: its tape, with its asset number at the left and its worst test
// point at the right. A lane opens into its test points.

import type { Check, Soak } from "../api/shapes";
import { between, duration } from "../clock";
import { h, type Part, Parts, say, set, show } from "../dom";
import { Bracket } from "../draw/bracket";
import { FigureText } from "../draw/figure";
import { worstFirst } from "../draw/order";
import { Tape } from "../draw/tape";
import { store } from "../live/store";
import { go, to } from "../router";
import { bench as texts, words } from "../texts";
import { PointRow, checkName } from "./point";

const closedLanes = new Set<number>();

export class Lane implements Part<Soak> {
  readonly element: HTMLElement;
  private soak: Soak;
  private readonly tape: Tape;
  private readonly progress = h("span");
  private readonly evidence = h("span");
  private readonly soFar = h("span", { class: "so-far" });
  private readonly worstName = h("span", { class: "worst-name" });
  private readonly bracket = new Bracket();
  private readonly figure = new FigureText();
  private readonly list = h("ul", { class: "points" });
  private readonly points: Parts<Check>;
  private readonly toggle: HTMLButtonElement;

  constructor(soak: Soak) {
    this.soak = soak;
    const pick = (from: number, until: number): void => go("soak", soak.soak, Math.round(from), Math.round(until));
    this.tape = new Tape("tall", pick);
    this.points = new Parts<Check>(this.list, checkName, (check) => new PointRow(check, () => this.soak, pick));
    this.list.id = `points-${soak.soak}`;
    set(this.list, "aria-label", texts.open(soak.unit));
    this.toggle = h("button", { class: "toggle", type: "button", "aria-controls": this.list.id, "aria-label": texts.open(soak.unit), onclick: () => this.open(closedLanes.has(soak.soak)) });
    this.element = h("article", { class: "lane", "aria-label": soak.unit },
      h("div", { class: "lane-head" },
        h("div", { class: "who" }, this.toggle,
          h("h2", {}, h("a", { href: to("soak", soak.soak) }, soak.unit)),
          h("p", {}, `${soak.console}, ${texts.at(soak.place)}`)),
        h("div", { class: "run" }, this.tape.element, h("p", {}, this.progress, this.evidence, this.soFar)),
        h("div", { class: "worst" }, this.worstName, this.bracket.element, this.figure.element)),
      this.list);
    this.open(!closedLanes.has(soak.soak));
  }

  update(soak: Soak): void {
    this.soak = soak;
    const now = Date.parse(store.bench!.at);
    const excursions = soak.checks.flatMap((c) => c.excursions);
    const gaps = soak.checks.flatMap((c) => c.gaps);
    const whole = between(soak.begin, soak.planned_end);
    const gone = between(soak.begin, store.bench!.at);
    this.tape.update({ begin: Date.parse(soak.begin), plannedEnd: Date.parse(soak.planned_end), until: now, gaps, excursions,
      label: texts.tape(soak.unit, words.percent(soak.progress_ratio), excursions.length, gaps.length) });
    say(this.progress, gone < whole ? texts.timeLeft(duration(gone), duration(whole), duration(whole - gone)) : texts.over(duration(whole)));
    say(this.evidence, texts.evidence(words.percent(soak.evidence_ratio)));
    say(this.soFar, texts.soFar[soak.so_far]);
    set(this.soFar, "data-outcome", soak.so_far);
    const worst = soak.checks[soak.worst] ?? worstFirst(soak.checks)[0];
    if (worst) this.showWorst(worst);
    if (!this.list.hidden) this.points.update(worstFirst(soak.checks));
  }

  private showWorst(worst: Check): void {
    set(this.element, "data-state", worst.state);
    set(this.element, "data-stale", !store.connected || worst.state === "silent");
    say(this.worstName, checkName(worst));
    this.bracket.update(worst);
    this.figure.update(worst.text, worst.state === "outside");
  }

  private open(opened: boolean): void {
    if (opened) closedLanes.delete(this.soak.soak);
    else closedLanes.add(this.soak.soak);
    set(this.toggle, "aria-expanded", String(opened));
    show(this.list, opened);
    if (opened && store.bench) this.points.update(worstFirst(this.soak.checks));
  }
}
