// Taking a round: one test point after the other, with what to connect before it.

import { get, part, post } from "../api/client";
import type { Point, RoundPlan, RoundStep } from "../api/shapes";
import { sentence } from "../dialog";
import { h } from "../dom";
import { FigureText } from "../draw/figure";
import { states, unit as texts } from "../texts";
import { Bracket } from "../draw/bracket";

/** Begins a round. Once that is done, it is shown in place of what an element has
 * until it has ended, while the caller goes on. */
export async function takeRound(unit: string, label: string, element: HTMLElement, done: () => void): Promise<void> {
  const path = `/api/v1/units/${part(unit)}`;
  const plan = await get<RoundPlan>(`${path}/round-plan`);
  await post(`${path}/rounds`, { label, place: plan.place });
  window.setTimeout(() => void goThrough(plan, label, element, done));
}

/** Goes through the test points of a round that has begun. */
async function goThrough(plan: RoundPlan, label: string, element: HTMLElement, done: () => void): Promise<void> {
  const { unit } = plan;
  const path = `/api/v1/units/${part(unit)}`;
  const log = h("ol", { class: "taken" });
  const stage = h("div", { class: "step", role: "group" });
  element.replaceChildren(h("h1", {}, unit, " ", h("small", {}, label)), stage, log);
  let stopped = false;
  for (const [i, step] of plan.steps.entries()) {
    const act = await before(stage, step, i + 1, plan.steps.length);
    if (act === "end") stopped = true;
    if (stopped) break;
    if (act === "skip") continue;
    stage.replaceChildren(h("p", { role: "status", class: "quiet" }, texts.reading(step.test_point, i + 1, plan.steps.length)));
    try {
      log.prepend(found(await post<Point>(`${path}/rounds/${part(label)}/points/${part(step.test_point)}`, { place: plan.place })));
    } catch (error) {
      log.prepend(h("li", {}, h("b", {}, step.test_point), h("p", { class: "trouble" }, sentence(error))));
    }
  }
  await post(`${path}/rounds/${part(label)}/end`).catch((error: unknown) => log.prepend(h("li", { class: "trouble" }, sentence(error))));
  const back = h("button", { type: "button", class: "doing", onclick: done }, unit);
  stage.replaceChildren(h("p", { role: "status" }, texts.ended), h("p", {}, back));
  back.focus();
}

/** Shows what is to be connected, and waits for the person where one is needed. */
function before(stage: HTMLElement, step: RoundStep, n: number, of: number): Promise<"read" | "skip" | "end"> {
  if (!step.needs_person) return Promise.resolve("read");
  return new Promise((answer) => {
    const read = h("button", { type: "button", class: "doing", onclick: () => answer("read") }, texts.next);
    stage.replaceChildren(h("p", { class: "quiet" }, `${n} / ${of}`), h("h2", {}, step.test_point), h("p", {}, step.about ?? ""), step.connect ? h("p", { class: "connect" }, texts.connect(step.connect)) : "",
      step.caution ? h("p", { class: "caution" }, step.caution) : "", h("p", { class: "quiet" }, texts.person),
      h("p", { class: "buttons" }, read, h("button", { type: "button", class: "plain", onclick: () => answer("skip") }, texts.skip), h("button", { type: "button", class: "plain", onclick: () => answer("end") }, texts.end)));
    read.focus();
  });
}

function found(point: Point): HTMLElement {
  return h("li", {}, h("h2", {}, point.test_point),
    ...point.figures.filter((f) => f.asked).map((f) => {
      const figure = new FigureText();
      const bracket = new Bracket();
      figure.update(f.text, f.state === "outside");
      bracket.update({ state: f.state ?? "silent", figure: f.figure, low: f.low, high: f.high, nominal: f.nominal });
      return h("p", { class: "found" }, h("span", { class: "measure" }, f.measure), bracket.element, figure.element, h("span", { class: "state" }, f.state ? states[f.state] : ""));
    }),
    ...point.findings.map((f) => h("p", { class: "finding" }, `${f.text} ${f.advice}`)),
    ...point.remarks.map((r) => h("p", { class: "quiet" }, r)), point.trouble ? h("p", { class: "trouble" }, point.trouble) : "");
}
