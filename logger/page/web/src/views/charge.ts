// The voltage across a reservoir capacitor, in figures that can be read from across
// the bench. What is not known says so, and nothing here says that a part may be
// touched.

import { get, lines, part, Refused } from "../api/client";
import type { Discharge, RoundPlan } from "../api/shapes";
import { duration } from "../clock";
import { sentence } from "../dialog";
import { h, say, set, show } from "../dom";
import { figure, scaleFor } from "../number";
import { charge as texts, shell, words } from "../texts";
import type { View } from "../view";
import { choose } from "./units";

/** A line comes four times a second; this long without one, and nothing is known. */
const patienceMs = 1200;

export function chargeView(args: string[]): View {
  const unit = args[0];
  if (!unit) return choose("charge")([]);
  const element = h("section", { class: "charge-view" }, h("p", { class: "quiet" }, shell.loading));
  const stop = new AbortController();
  void begin(unit, element, stop.signal);
  return { element, title: texts.of(unit), close: () => stop.abort() };
}

async function begin(unit: string, element: HTMLElement, signal: AbortSignal): Promise<void> {
  try {
    const plan = await get<RoundPlan>(`/api/v1/units/${part(unit)}/round-plan`);
    const steps = plan.steps.filter((s) => s.discharge);
    if (steps.length === 0) return element.replaceChildren(h("h1", {}, texts.of(unit)), h("p", { class: "empty" }, texts.noPoint));
    const choice = h("select", { "aria-label": texts.point }, ...steps.map((s) => h("option", { value: s.test_point }, s.test_point)));
    element.replaceChildren(h("h1", {}, texts.of(unit)), h("h2", {}, texts.before),
      h("ol", { class: "cautions" }, ...plan.cautions.map((c) => h("li", {}, c)), ...steps.map((s) => s.caution).filter((c) => c !== undefined).map((c) => h("li", {}, c))),
      h("p", { class: "foot" }, steps.length > 1 ? h("label", {}, h("span", {}, texts.point), choice) : "",
        h("button", { type: "button", class: "doing big", onclick: () => watch(unit, choice.value, plan.place, element, signal) }, texts.read)));
  } catch (error) {
    element.replaceChildren(h("p", { class: "trouble", role: "alert" }, sentence(error)));
  }
}

function watch(unit: string, point: string, place: string, element: HTMLElement, signal: AbortSignal): void {
  const screen = new Screen(unit, point);
  element.replaceChildren(screen.element);
  const ended = new AbortController();
  signal.addEventListener("abort", () => ended.abort());
  screen.stop.addEventListener("click", () => {
    ended.abort();
    void begin(unit, element, signal);
  });
  screen.stop.focus();
  lines<Discharge>(`/api/v1/units/${part(unit)}/discharge/${part(point)}`, { place }, ended.signal, (line) => screen.show(line))
    .then(() => screen.lost(texts.lost))
    .catch((error: unknown) => {
      if (!ended.signal.aborted) screen.lost(error instanceof Refused && error.status === 0 ? texts.lost : sentence(error));
    });
}

/** The screen with the large figure. */
class Screen {
  readonly element: HTMLElement;
  readonly stop = h("button", { type: "button", class: "plain" }, texts.stop);
  private readonly number = h("b");
  private readonly unitName = h("span", { class: "unit" });
  private readonly phase = h("p", { class: "phase", role: "status" });
  private readonly text = h("p", { class: "charge-text" });
  private readonly count = h("p", { class: "countdown" });
  private timer = 0;

  constructor(unit: string, point: string) {
    this.element = h("div", { class: "charge-screen" }, h("header", { class: "view-head" }, h("h1", {}, unit, " ", h("small", {}, point)), h("p", { class: "buttons" }, this.stop)),
      h("p", { class: "charge-figure", "aria-label": texts.figure }, this.number, this.unitName), this.phase, this.count, this.text, h("p", { class: "caution" }, texts.always));
    this.unknown();
  }

  show(line: Discharge): void {
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => this.lost(texts.lost), patienceMs);
    if (line.error) return this.lost(line.error);
    if (line.value_v === null) this.unknown();
    else {
      const [number, ...unit] = figure(line.value_v, { factor: 1, symbol: "V" }).split(" ");
      say(this.number, Number(number).toFixed(Math.abs(line.value_v) < 100 ? 2 : 1));
      say(this.unitName, unit.join(" "));
      set(this.element, "data-known", true);
    }
    set(this.element, "data-phase", line.phase);
    say(this.phase, texts.phases[line.phase] ?? line.phase);
    say(this.text, line.text);
    const volts = figure(line.below_v, scaleFor(line.below_v, "V"));
    const left = line.seconds_left === null ? "" : duration(line.seconds_left);
    say(this.count, line.value_v === null ? texts.aim(volts)
      : line.below_for_s > 0 ? texts.below(volts, duration(line.below_for_s))
      : left ? texts.estimate(line.seconds_left_u === null ? left : texts.estimateU(left, duration(2 * line.seconds_left_u)), volts)
      : texts.aim(volts));
  }

  lost(why: string): void {
    window.clearTimeout(this.timer);
    this.unknown();
    say(this.phase, words.notKnown);
    say(this.text, why);
    say(this.count, "");
  }

  private unknown(): void {
    say(this.number, words.notKnown);
    say(this.unitName, "");
    set(this.element, "data-known", null);
    set(this.element, "data-phase", "not known");
    show(this.count, true);
  }
}
