// A figure over months: what rounds and soaks found, its limits, and where it is
// going. Time runs left to right, in the same bracket as everywhere.

import type { Course, Trend } from "../api/shapes";
import { svg } from "../dom";
import { history } from "../texts";

const width = 640;
const height = 170;
const edge = { left: 4, right: 4, top: 12, bottom: 12 };

interface Point {
  at: number;
  value: number;
  low: number;
  high: number;
}

/** Draws one figure's course. */
export function courseChart(of: string, points: Point[], low: number | null, high: number | null, trend: Trend): SVGSVGElement {
  const first = Math.min(...points.map((p) => p.at));
  const last = Math.max(...points.map((p) => p.at));
  const ahead = trend.reached_at ? Date.parse(trend.reached_at) : last;
  const span = Math.max(last - first, 86_400_000);
  // What lies further ahead than twice what there has been is past the edge.
  const end = Math.min(Math.max(ahead, last), last + 2 * span);
  const values = [...points.flatMap((p) => [p.low, p.high]), ...(low === null ? [] : [low]), ...(high === null ? [] : [high])];
  const bottom = Math.min(...values);
  const top = Math.max(...values);
  const x = (at: number): number => edge.left + ((width - edge.left - edge.right) * (at - first)) / Math.max(1, end - first);
  const y = (value: number): number => height - edge.bottom - ((height - edge.top - edge.bottom) * (value - bottom)) / (top - bottom || 1);
  const drawing = svg("svg", { class: "course", viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": history.chart(of, points.length, trend.text) });
  for (const [limit, hook] of [[low, -7], [high, 7]] as const) {
    if (limit !== null) drawing.append(svg("path", { class: "end", d: `M${edge.left} ${y(limit) + hook}V${y(limit)}H${width - edge.right}V${y(limit) + hook}` }));
  }
  drawing.append(svg("path", { class: "way", d: points.map((p, i) => `${i ? "L" : "M"}${x(p.at).toFixed(1)} ${y(p.value).toFixed(1)}`).join("") }));
  for (const p of points) {
    drawing.append(svg("path", { class: "spread", d: `M${x(p.at).toFixed(1)} ${y(p.low).toFixed(1)}V${y(p.high).toFixed(1)}` }), svg("circle", { class: "found-figure", cx: x(p.at).toFixed(1), cy: y(p.value).toFixed(1), r: 4 }));
  }
  const limit = (trend.per_month ?? 0) < 0 ? low : high;
  if (trend.reached_at && limit !== null) drawing.append(projection(points.at(-1)!, trend, limit));
  return drawing;

  /** From the latest figure to where it meets the limit, with how sure that is. */
  function projection(from: Point, t: Trend, meets: number): SVGGElement {
    const [a, b] = [Date.parse(t.earliest ?? t.reached_at!), t.latest ? Date.parse(t.latest) : end];
    return svg("g", { class: "projection" }, svg("path", { class: "cone", d: `M${x(from.at)} ${y(from.value)}L${x(a)} ${y(meets)}H${x(b)}Z` }),
      svg("path", { class: "ahead", d: `M${x(from.at)} ${y(from.value)}L${x(Date.parse(t.reached_at!))} ${y(meets)}` }));
  }
}

/** The points of a course that have a figure. */
export function coursePoints(course: Course): Point[] {
  return course.figures.filter((f) => f.value !== null).map((f) => {
    const u = 2 * (f.u ?? 0);
    return { at: Date.parse(f.at), value: f.value!, low: f.low ?? f.value! - u, high: f.high ?? f.value! + u };
  });
}
