// A unit over the months: the wear of its capacitors first, then every figure that
// rounds and soaks have found more than once.

import { get, part, Refused } from "../api/client";
import type { Course, History, Wear, Worn } from "../api/shapes";
import { day } from "../clock";
import { sentence } from "../dialog";
import { h, set } from "../dom";
import { courseChart, coursePoints } from "../draw/course";
import { figure, scaleFor } from "../number";
import { states, unit as texts } from "../texts";

/** How many figures a course must have to be drawn. */
const leastFigures = 2;

export async function fillHistory(unit: string, into: HTMLElement): Promise<void> {
  try {
    const history = await get<History>(`/api/v1/units/${part(unit)}/history`);
    const worn = history.wear.flatMap(wear);
    const courses = history.courses.filter((c) => coursePoints(c).length >= leastFigures).map(course);
    into.replaceChildren(...(worn.length + courses.length > 0 ? [h("div", { class: "courses" }, ...worn, ...courses)] : [h("p", { class: "quiet" }, texts.noHistory)]));
  } catch (error) {
    const none = error instanceof Refused && error.status === 404;
    into.replaceChildren(h("p", { class: none ? "quiet" : "trouble" }, none ? texts.noHistory : sentence(error)));
  }
}

function wear(w: Wear): HTMLElement[] {
  const drawn = [w.capacitance, w.esr, w.leakage].filter((worn): worn is Worn => worn !== null && worn.points.some((p) => p.value !== null)).map((worn) => {
    const points = worn.points.filter((p) => p.value !== null).map((p) => ({ at: Date.parse(p.at), value: p.value!, low: p.value!, high: p.value! }));
    const falls = worn.measure === "capacitance";
    const title = `${w.test_point} ${worn.measure}`;
    return drawing(title, sized(worn.first, worn.unit), sized(worn.latest, worn.unit), worn.trend.text, points[0]!.at, points.at(-1)!.at,
      courseChart(title, points, falls ? worn.limit : null, falls ? null : worn.limit, worn.trend));
  });
  const findings = w.findings.map((f) => {
    const p = h("p", { class: "finding" }, h("b", {}, states[f.state] ?? f.state), ` ${f.text} `, f.advice);
    set(p, "data-state", f.state);
    return p;
  });
  return [...drawn, ...findings];
}

function course(c: Course): HTMLElement {
  const points = coursePoints(c);
  const title = `${c.test_point} ${c.measure}`;
  return drawing(title, c.figures[0]!.text, c.figures.at(-1)!.text, c.trend.text, points[0]!.at, points.at(-1)!.at, courseChart(title, points, c.low, c.high, c.trend));
}

function drawing(title: string, first: string, latest: string, trend: string, from: number, to: number, chart: SVGSVGElement): HTMLElement {
  return h("figure", { class: "course-figure" }, h("figcaption", {}, h("b", {}, title), h("span", {}, first === latest ? latest : `${first} → ${latest}`)),
    chart, h("p", { class: "course-ends" }, h("time", {}, day(from)), h("time", {}, day(to))), h("p", { class: "quiet" }, trend));
}

function sized(value: number | null, unit: string): string {
  return figure(value, scaleFor(Math.abs(value ?? 0), unit));
}
