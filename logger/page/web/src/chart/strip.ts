// One chart of a soak: the readings of one check over the window that all charts
// show, within its limits.

import uPlot from "uplot";
import type { Excursion } from "../api/shapes";
import { benchDate } from "../clock";
import { type Columns, aligned, extent, noColumns } from "./columns";
import { listen } from "./gestures";
import { type Bounds, paintBehind, paintOver } from "./paint";
import { colour, font } from "./palette";
import type { Window } from "./window";

/** How wide the figures at the left of every chart are, in CSS pixels. */
export const gutter = 62;

/** The room at the right, for half of a time that stands at the end. */
export const rightRoom = 30;

export interface StripOptions {
  window: Window;
  /** Charts of one name share their pointer. */
  pointer: string;
  height: number;
  /** What is at the pointer; null where it points to nothing. */
  onPoint(index: number | null): void;
  decimals(span: number): (value: number) => string;
}

export class Strip {
  readonly plot: uPlot;
  data: Columns = noColumns;
  private bounds: Bounds = { low: null, high: null };
  private excursions: readonly Excursion[] = [];
  private close = false;
  private readonly stop: () => void;

  constructor(within: HTMLElement, width: number, private readonly options: StripOptions) {
    this.plot = new uPlot(this.settings(width), aligned(this.data), within);
    this.stop = listen(this.plot, options.window);
  }

  /** Draws readings, and what they are held against. */
  draw(data: Columns, bounds: Bounds, excursions: readonly Excursion[]): void {
    this.data = data;
    this.bounds = bounds;
    this.excursions = excursions;
    const { from, to } = this.options.window;
    this.plot.batch(() => {
      this.plot.setData(aligned(data), false);
      this.plot.setScale("x", { min: from, max: to });
    });
  }

  /** Goes to the window with the readings that it has. */
  move(): void {
    this.plot.setScale("x", { min: this.options.window.from, max: this.options.window.to });
  }

  /** Whether the height shows the readings only, or the limits with them. */
  comeClose(close: boolean): void {
    this.close = close;
    this.move();
  }

  resize(width: number, height = this.options.height): void {
    this.plot.setSize({ width, height });
  }

  destroy(): void {
    this.stop();
    this.plot.destroy();
  }

  private settings(width: number): uPlot.Options {
    const { window, pointer, height, onPoint } = this.options;
    const axis = { stroke: () => colour("ink-soft"), font: font(11), grid: { stroke: () => colour("rule"), width: 0.5 }, ticks: { show: false } };
    const line = { points: { show: false } };
    return {
      width, height,
      padding: [4, rightRoom, 4, 0],
      legend: { show: false },
      tzDate: benchDate,
      cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: false, dist: 4 }, sync: { key: pointer, setSeries: false } },
      scales: { x: { time: true, auto: false, range: () => [window.from, window.to] }, y: { range: () => this.range() } },
      axes: [
        { ...axis, size: 0, space: 92, values: (_u, splits) => splits.map(() => "") },
        { ...axis, size: gutter, gap: 8, space: 26, values: (_u, splits) => splits.map(this.options.decimals((splits[1] ?? 1) - (splits[0] ?? 0))) },
      ],
      series: [
        {},
        { ...line, stroke: "transparent", width: 0 },
        { ...line, stroke: "transparent", width: 0 },
        { ...line, stroke: () => colour("sea"), width: 1.4 },
      ],
      bands: [{ series: [2, 1], fill: () => `color-mix(in srgb, ${colour("sea")} 30%, transparent)` }],
      hooks: {
        drawClear: [(u) => paintBehind(u, this.bounds, this.excursions, window.to)],
        draw: [(u) => paintOver(u, this.bounds, this.excursions, window.to)],
        setCursor: [(u) => onPoint(u.cursor.left !== undefined && u.cursor.left >= 0 ? (u.cursor.idx ?? null) : null)],
        setSelect: [(u) => this.selected(u)],
      },
    };
  }

  private selected(u: uPlot): void {
    if (u.select.width < 4) return;
    const { left, width } = u.select;
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    this.options.window.look(u.posToVal(left, "x"), u.posToVal(left + width, "x"));
  }

  /** From bottom to top: the limits with what is around them, or the readings. */
  private range(): [number, number] {
    const seen = extent(this.data);
    let [low, high] = seen ?? [Infinity, -Infinity];
    if (!this.close || !seen) {
      low = Math.min(low, this.bounds.low ?? Infinity);
      high = Math.max(high, this.bounds.high ?? -Infinity);
    }
    if (!(low <= high)) return [0, 1];
    const margin = (high - low) * 0.08 || Math.abs(high) * 0.01 || 1e-9;
    return [low - margin, high + margin];
  }
}
