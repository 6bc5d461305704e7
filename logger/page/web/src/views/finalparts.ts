// Parts of the final test: the row of its steps, what a step found, and the verdict.

import type { Final, FinalReason, FinalStep } from "../api/shapes";
import { h, set } from "../dom";
import { Bracket } from "../draw/bracket";
import { FigureText } from "../draw/figure";
import { final as texts, outcomes, states } from "../texts";

/** The steps in their order, each a small bracket that is closed once it is taken. */
export function stepBar(test: Final, now: string): HTMLElement {
  return h("ol", { class: "step-bar", "aria-label": texts.steps }, ...test.steps.map((s) => {
    const item = h("li", { title: s.about ?? s.step }, h("span", {}, s.step), s.act ? h("span", { class: "heard-only" }, outcomes[s.outcome]) : "");
    set(item, "aria-current", s.step === now ? "step" : null);
    set(item, "data-outcome", s.act ? s.outcome : "");
    return item;
  }));
}

/** What a step found: its figures in their brackets, or in words, and why it does not
 * pass. */
export function found(step: FinalStep): HTMLElement {
  return h("div", {}, h("h2", {}, step.about ?? step.step, " ", h("span", { class: "verdict", "data-outcome": step.outcome }, outcomes[step.outcome])),
    ...step.figures.map((f) => {
      const figure = new FigureText();
      const bracket = new Bracket();
      figure.update(f.text, f.state === "outside");
      bracket.update({ state: f.state, figure: f.figure, low: f.low, high: f.high, nominal: f.nominal, guard_low: f.accept_low, guard_high: f.accept_high });
      return h("p", { class: "found" }, h("span", { class: "measure" }, `${f.test_point} ${f.measure}`), bracket.element, figure.element, h("span", { class: "state" }, states[f.state]));
    }),
    step.figures.length === 0 && step.said ? h("p", { class: "said" }, step.said) : "", ...step.remarks.map((r) => h("p", { class: "quiet" }, r)), ...step.reasons.map(reason));
}

function reason(r: FinalReason): HTMLElement {
  return h("div", { class: "finding" }, h("p", {}, r.text), r.causes.length > 0 ? h("p", { class: "quiet" }, `${texts.causes}: ${r.causes.join("; ")}`) : "");
}

/** The verdict of a test that has ended. */
export function endedTest(test: Final): HTMLElement {
  const stamp = h("p", { class: "stamp large", role: "status" }, outcomes[test.outcome]);
  set(stamp, "data-outcome", test.outcome);
  return h("div", { class: "ended-test" }, stamp, test.given_up ? h("p", {}, test.given_up) : "", ...test.reasons.map(reason), stepBar(test, ""));
}
