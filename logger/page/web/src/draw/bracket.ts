// The bracket: a check's limits as a bracket, what the guard band leaves of them as
// its lighter inner part, the figure as a tick, where it has been as a thin line.
// Outside, the tick has left; silent, there is no tick; settling, the bracket is
// not closed yet. State is told by the drawing; colour only repeats it.

import type { State } from "../api/shapes";
import { set, svg } from "../dom";
import { words } from "../texts";

/** What is drawn; null is not known, and no bound for low and high. */
export interface Standing {
  state: State;
  figure: number | null;
  low: number | null;
  high: number | null;
  nominal?: number | null;
  guard_low?: number | null;
  guard_high?: number | null;
  trail_low?: number | null;
  trail_high?: number | null;
}

const width = 240;
const height = 26;
const margin = 36;
const inside = width - 2 * margin;

/** Where along the bracket a figure stands: 0 on the low end, 1 on the high end. A
 * limit with one end is drawn as long again on the other side of its nominal
 * figure, else down or up to 0, as on the terminal. */
export function place(s: Standing, figure: number): number {
  const { low, high } = s;
  if (low !== null && high !== null) return (figure - low) / (high - low);
  if (high !== null) return 1 - (high - figure) / reach(s, high);
  if (low !== null) return (figure - low) / reach(s, low);
  return (figure + 1) / 2;
}

function reach(s: Standing, end: number): number {
  const aim = s.nominal === null || s.nominal === undefined ? 0 : 2 * Math.abs(end - s.nominal);
  if (aim > 0) return aim;
  if (end !== 0) return Math.abs(end);
  return s.figure ? 2 * Math.abs(s.figure) : 1;
}

/** The horizontal place of a figure in the drawing, kept within it. */
function x(s: Standing, figure: number): number {
  return Math.max(3, Math.min(width - 3, margin + inside * place(s, figure)));
}

/** A bracket on the page. */
export class Bracket {
  readonly element: SVGSVGElement;
  private readonly field = svg("rect", { class: "guard", y: 5, height: height - 10 });
  private readonly inner = svg("rect", { class: "accepted", y: 5, height: height - 10 });
  private readonly low = svg("path", { class: "end", d: `M${margin + 6} 3h-6v${height - 6}h6` });
  private readonly high = svg("path", { class: "end", d: `M${width - margin - 6} 3h6v${height - 6}h-6` });
  private readonly dots = svg("path", { class: "dots", d: `M${margin + 14} ${height / 2}H${width - margin - 12}` });
  private readonly trail = svg("path", { class: "trail" });
  private readonly tick = svg("path", { class: "tick", d: `M0 2v${height - 4}` });

  constructor() {
    this.element = svg("svg", { class: "bracket", viewBox: `0 0 ${width} ${height}`, role: "img" },
      this.field, this.inner, this.dots, this.trail, this.low, this.high, this.tick);
  }

  update(s: Standing): void {
    const known = s.figure !== null && s.state !== "silent" && s.state !== "settling";
    set(this.element, "data-state", s.state);
    set(this.element, "aria-label", words.bracket(s.state, s.figure === null || !known ? null : place(s, s.figure)));
    set(this.low, "hidden", s.low === null);
    set(this.high, "hidden", s.high === null);
    set(this.dots, "hidden", s.state !== "silent");
    this.between(this.field, s, s.low, s.high);
    this.between(this.inner, s, s.guard_low ?? s.low, s.guard_high ?? s.high);
    set(this.tick, "hidden", !known);
    if (known) set(this.tick, "transform", `translate(${x(s, s.figure!).toFixed(1)} 0)`);
    const been = known && typeof s.trail_low === "number" && typeof s.trail_high === "number";
    set(this.trail, "hidden", !been);
    if (been) set(this.trail, "d", `M${x(s, s.trail_low!).toFixed(1)} ${height / 2}H${x(s, s.trail_high!).toFixed(1)}`);
  }

  /** Lays a rectangle between two figures; an open end reaches to the end of what
   * is drawn. */
  private between(rect: SVGRectElement, s: Standing, low: number | null, high: number | null): void {
    const from = low === null ? margin : x(s, low);
    const to = high === null ? width - margin : x(s, high);
    set(rect, "x", from.toFixed(1));
    set(rect, "width", Math.max(0, to - from).toFixed(1));
  }
}
