// The tape: a soak over its planned time, left to right. What is written is solid,
// a gap is left white, an excursion is a notch as deep as it went outside, and what
// is still to come is hatched.

import type { Excursion, Gap } from "../api/shapes";
import { h, set, svg } from "../dom";

/** What a tape shows. Times in milliseconds since 1970. */
export interface Written {
  begin: number;
  plannedEnd: number;
  /** Up to where it is written. */
  until: number;
  gaps: Gap[];
  excursions: Excursion[];
  label: string;
}

/** Below this share of the tape a gap or a notch is drawn this wide, so that it is
 * seen at all. */
const leastPercent = 0.25;

/** A tape on the page. Dragging along it picks a time. */
export class Tape {
  readonly element: HTMLElement;
  private readonly blank = svg("rect", { class: "blank", width: "100%", height: "100%" });
  private readonly written = svg("rect", { class: "written", height: "100%" });
  private readonly marks = svg("g");
  private readonly chosen = svg("rect", { class: "chosen", height: "100%", hidden: true });
  private readonly drawing: SVGSVGElement;
  private shown: Written | null = null;
  private drawn = "";

  constructor(size: "tall" | "thin", onPick?: (from: number, to: number) => void) {
    this.drawing = svg("svg", { role: "img", width: "100%", height: "100%" }, this.blank, this.written, this.marks, this.chosen);
    this.element = h("div", { class: `tape ${size}` }, this.drawing);
    if (onPick) this.pickable(onPick);
  }

  update(w: Written): void {
    this.shown = w;
    set(this.drawing, "aria-label", w.label);
    set(this.written, "width", `${this.percent(w.until).toFixed(3)}%`);
    const key = `${w.begin} ${w.plannedEnd} ${w.gaps.length} ${w.excursions.map((e) => e.worst + (e.to ?? String(Math.round(w.until / 1000)))).join()} ${w.gaps.at(-1)?.to}`;
    if (key === this.drawn) return;
    this.drawn = key;
    this.marks.replaceChildren(
      ...w.gaps.map((g) => this.mark("gap", Date.parse(g.from), Date.parse(g.to), 1)),
      ...w.excursions.map((e) => this.mark(`notch ${e.state}`, Date.parse(e.from), e.to ? Date.parse(e.to) : w.until, depth(e))),
    );
  }

  /** Shows which part of the tape is looked at; null is the whole of it. */
  choose(from: number | null, to = 0): void {
    set(this.chosen, "hidden", from === null);
    if (from === null) return;
    set(this.chosen, "x", `${this.percent(from)}%`);
    set(this.chosen, "width", `${Math.max(leastPercent, this.percent(to) - this.percent(from))}%`);
  }

  private mark(kind: string, from: number, to: number, share: number): SVGRectElement {
    const x = this.percent(from);
    return svg("rect", { class: kind, x: `${x}%`, width: `${Math.max(leastPercent, this.percent(to) - x)}%`, height: `${Math.round(share * 100)}%` });
  }

  private percent(at: number): number {
    const { begin, plannedEnd } = this.shown!;
    return Math.max(0, Math.min(100, (100 * (at - begin)) / Math.max(1, plannedEnd - begin)));
  }

  private pickable(onPick: (from: number, to: number) => void): void {
    let start: number | null = null;
    const at = (event: PointerEvent): number => {
      const box = this.element.getBoundingClientRect();
      const share = Math.max(0, Math.min(1, (event.clientX - box.left) / box.width));
      return this.shown!.begin + share * (this.shown!.plannedEnd - this.shown!.begin);
    };
    this.element.classList.add("pickable");
    this.element.addEventListener("pointerdown", (event) => {
      start = at(event);
      this.element.setPointerCapture(event.pointerId);
    });
    this.element.addEventListener("pointermove", (event) => {
      if (start !== null) this.choose(Math.min(start, at(event)), Math.max(start, at(event)));
    });
    this.element.addEventListener("pointerup", (event) => {
      const from = start;
      start = null;
      this.choose(null);
      const to = at(event);
      const least = (this.shown!.plannedEnd - this.shown!.begin) / 200;
      if (from !== null && Math.abs(to - from) > least) onPick(Math.min(from, to), Math.max(from, to));
    });
    this.element.addEventListener("pointercancel", () => {
      start = null;
      this.choose(null);
    });
  }
}

/** How deep a notch is cut: two fifths of the tape just outside, four fifths of it a
 * tenth of the limit away and more. */
function depth(e: Excursion): number {
  const share = Math.abs(e.worst - e.limit) / (Math.abs(e.limit) || 1);
  return 0.4 + 0.4 * Math.min(1, share / 0.1);
}
