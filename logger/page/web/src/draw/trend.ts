// The trend: where a figure went in the last minutes, as a thin line.

import { set, svg } from "../dom";

/** How far back a trend reaches. */
export const trendMs = 10 * 60 * 1000;
const width = 200;
const height = 28;
/** The least that is shown from bottom to top, of the width of the limits: an even
 * figure is to look even. */
const leastShare = 0.05;

/** Readings of the last minutes, in time order. */
export class Recent {
  readonly at: number[] = [];
  readonly value: number[] = [];

  /** Adds a reading, unless it has that or a later one; a gap is a NaN. */
  add(at: number, value: number): void {
    const last = this.at.at(-1);
    if (last !== undefined && at <= last) return;
    this.at.push(at);
    this.value.push(value);
    while (this.at[0]! < at - trendMs) {
      this.at.shift();
      this.value.shift();
    }
  }

  /** Puts older readings before those that it has. */
  before(at: number[], value: number[]): void {
    const first = this.at[0] ?? Infinity;
    const n = at.findIndex((t) => t >= first);
    this.at.unshift(...at.slice(0, n < 0 ? undefined : n));
    this.value.unshift(...value.slice(0, n < 0 ? undefined : n));
  }
}

/** A trend on the page. */
export class Trend {
  readonly element: SVGSVGElement;
  private readonly line = svg("path", { class: "trend-line" });

  constructor() {
    this.element = svg("svg", { class: "trend", viewBox: `0 0 ${width} ${height}`, preserveAspectRatio: "none", "aria-hidden": "true" }, this.line);
  }

  update(recent: Recent, now: number, low: number | null, high: number | null): void {
    const known = recent.value.filter(Number.isFinite);
    if (known.length < 2) return set(this.line, "d", "");
    let bottom = Math.min(...known);
    let top = Math.max(...known);
    const limits = low !== null && high !== null ? high - low : Math.abs(high ?? low ?? top);
    const least = limits * leastShare || 1e-12;
    if (top - bottom < least) {
      const middle = (top + bottom) / 2;
      bottom = middle - least / 2;
      top = middle + least / 2;
    }
    // Several readings in one hundredth of the width are one point of the line.
    const step = trendMs / width;
    let d = "";
    let pen = "M";
    let last = -Infinity;
    recent.value.forEach((value, i) => {
      const at = recent.at[i]!;
      if (!Number.isFinite(value) || at - last > trendMs / 20) pen = "M";
      if (!Number.isFinite(value) || (pen === "L" && at - last < step)) return;
      last = at;
      const x = width * (1 - (now - at) / trendMs);
      const y = 2 + (height - 4) * (1 - (value - bottom) / (top - bottom));
      d += `${pen}${x.toFixed(1)} ${y.toFixed(1)}`;
      pen = "L";
    });
    set(this.line, "d", d);
  }
}
