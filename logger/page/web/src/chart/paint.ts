// What is painted behind and over the readings of a chart: limits as the ends of a
// bracket laid on its side, guard bands, excursions.

import type uPlot from "uplot";
import type { Excursion } from "../api/shapes";
import { colour } from "./palette";

/** What a chart is held against, in its check's unit. */
export interface Bounds {
  low: number | null;
  high: number | null;
  guard_low?: number | null;
  guard_high?: number | null;
}

/** Paints what lies behind the readings. */
export function paintBehind(u: uPlot, bounds: Bounds, excursions: readonly Excursion[], now: number): void {
  const { ctx } = u;
  const { left, top, width, height } = u.bbox;
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  for (const e of excursions) {
    const from = u.valToPos(Date.parse(e.from) / 1000, "x", true);
    const to = u.valToPos(e.to ? Date.parse(e.to) / 1000 : now, "x", true);
    ctx.fillStyle = colour(e.state === "borderline" ? "ochre-wash" : "brick-wash");
    ctx.fillRect(from, top, Math.max(2 * devicePixelRatio, to - from), height);
  }
  ctx.fillStyle = colour("ochre-wash");
  strip(u, bounds.low, bounds.guard_low);
  strip(u, bounds.guard_high, bounds.high);
  ctx.restore();
}

function strip(u: uPlot, from: number | null | undefined, to: number | null | undefined): void {
  if (typeof from !== "number" || typeof to !== "number") return;
  const a = u.valToPos(from, "y", true);
  const b = u.valToPos(to, "y", true);
  u.ctx.fillRect(u.bbox.left, Math.min(a, b), u.bbox.width, Math.abs(a - b));
}

/** Paints what lies over the readings. */
export function paintOver(u: uPlot, bounds: Bounds, excursions: readonly Excursion[], now: number): void {
  const { ctx } = u;
  const px = devicePixelRatio;
  ctx.save();
  ctx.beginPath();
  ctx.rect(u.bbox.left - 8 * px, u.bbox.top - px, u.bbox.width + 9 * px, u.bbox.height + 2 * px);
  ctx.clip();
  ctx.strokeStyle = colour("ink");
  ctx.lineWidth = 1.2 * px;
  for (const [limit, hook] of [[bounds.low, -1], [bounds.high, 1]] as const) if (limit !== null) end(u, limit, hook * 5 * px);
  for (const e of excursions) notch(u, e, now);
  ctx.restore();
}

/** The end of a bracket: a line along the limit, with a hook towards the inside. */
function end(u: uPlot, limit: number, hook: number): void {
  const { ctx, bbox } = u;
  const y = Math.round(u.valToPos(limit, "y", true)) + 0.5;
  ctx.beginPath();
  ctx.moveTo(bbox.left + 0.5, y + hook);
  ctx.lineTo(bbox.left + 0.5, y);
  ctx.lineTo(bbox.left + bbox.width - 0.5, y);
  ctx.lineTo(bbox.left + bbox.width - 0.5, y + hook);
  ctx.stroke();
}

/** A notch at the top edge, over the time of an excursion. */
function notch(u: uPlot, e: Excursion, now: number): void {
  const { ctx, bbox } = u;
  const from = u.valToPos(Date.parse(e.from) / 1000, "x", true);
  const to = u.valToPos(e.to ? Date.parse(e.to) / 1000 : now, "x", true);
  if (to < bbox.left || from > bbox.left + bbox.width) return;
  ctx.fillStyle = colour(e.state === "borderline" ? "ochre" : "brick");
  const least = 3 * devicePixelRatio;
  ctx.fillRect(Math.max(from, bbox.left), bbox.top, Math.max(least, Math.min(to, bbox.left + bbox.width) - Math.max(from, bbox.left)), least);
}
