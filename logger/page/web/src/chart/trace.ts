// Lines over each other, of video over time or of power over frequency: the latest in
// ink, what it is held against in ochre under it, measured levels as rulers with their
// figure at the right edge.

import uPlot from "uplot";
import { listen } from "./gestures";
import { colour, font } from "./palette";
import { Window } from "./window";

/** One line that is drawn: points from a begin on, a step apart on the axis across. */
export interface Line {
  begin: number;
  step: number;
  low: (number | null)[];
  high: (number | null)[];
}

/** A level that was measured, on the axis up. */
export interface Level {
  name: string;
  at: number;
  text: string;
}

/** What the axes are of. */
export interface Axes {
  /** The shortest stretch across that can be looked at. */
  shortest: number;
  across: (at: number) => string;
  up: (at: number) => string;
  /** Where figures stand on the axis across; where the chart likes if left out. */
  stops?: number[];
}

export class Trace {
  private readonly plot: uPlot;
  readonly window: Window;
  private levels: readonly Level[] = [];
  private readonly stop: () => void;
  private stretch: [number, number] = [0, 1];

  constructor(within: HTMLElement, width: number, private readonly height: number, from: number, to: number, private readonly axes: Axes) {
    this.window = new Window({ from, to }, axes.shortest);
    this.plot = new uPlot(this.settings(width), [[], [], [], [], []], within);
    this.stop = listen(this.plot, this.window);
    this.window.watch(() => this.plot.setScale("x", { min: this.window.from, max: this.window.to }));
  }

  /** Draws a line over another, with its levels. */
  draw(line: Line, under: Line | null, levels: readonly Level[], stretch: [number, number]): void {
    this.levels = levels;
    this.stretch = stretch;
    const a = points(line);
    const b = under ? points(under) : null;
    const [x, ...ys] = b ? uPlot.join([[b.x, b.low, b.high], [a.x, a.low, a.high]]) : [a.x, a.x.map(() => null), a.x.map(() => null), a.low, a.high];
    this.plot.batch(() => {
      this.plot.setData([x, ...ys] as uPlot.AlignedData, false);
      this.plot.setScale("x", { min: this.window.from, max: this.window.to });
    });
  }

  redraw(): void {
    this.plot.redraw();
  }

  resize(width: number): void {
    this.plot.setSize({ width, height: this.height });
  }

  destroy(): void {
    this.stop();
    this.plot.destroy();
  }

  get canvas(): HTMLCanvasElement {
    return this.plot.ctx.canvas;
  }

  private settings(width: number): uPlot.Options {
    const axis = { stroke: () => colour("ink-soft"), font: font(12), grid: { stroke: () => colour("rule"), width: 0.5 }, ticks: { show: false } };
    const line = { points: { show: false }, spanGaps: true };
    return {
      width, height: this.height,
      padding: [10, (u) => (narrow(u) ? 8 : 140), 0, 0],
      legend: { show: false },
      cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: false, dist: 4 } },
      scales: { x: { time: false, auto: false, range: () => [this.window.from, this.window.to] }, y: { range: () => this.stretch } },
      axes: [{ ...axis, size: 30, ...(this.axes.stops ? { splits: (u: uPlot) => this.stopsIn(u) } : {}), values: (_u, splits) => splits.map(this.axes.across) },
        { ...axis, size: 68, gap: 8, values: (_u, splits) => splits.map(this.axes.up) }],
      series: [{},
        { ...line, stroke: () => colour("ochre"), width: 2.6 }, { ...line, stroke: () => colour("ochre"), width: 2.6 },
        { ...line, stroke: () => colour("ink"), width: 1.4 }, { ...line, stroke: () => colour("ink"), width: 1.4 }],
      bands: [{ series: [4, 3], fill: () => colour("ink-soft") }],
      hooks: { drawAxes: [(u) => this.rulers(u)], setSelect: [(u) => this.selected(u)] },
    };
  }

  /** The figures' places that are looked at, as many as there is room for. */
  private stopsIn(u: uPlot): number[] {
    const seen = (this.axes.stops ?? []).filter((s) => s >= this.window.from - 1e-9 && s <= this.window.to + 1e-9);
    const each = Math.max(1, Math.ceil((seen.length * 58) / Math.max(1, u.bbox.width / devicePixelRatio)));
    return seen.filter((_, i) => i % each === 0);
  }

  /** Measured levels, their figures at the right edge, moved apart where they would
   * lie over each other; where that edge would take too much of the chart they stand
   * on their lines. */
  private rulers(u: uPlot): void {
    const { ctx, bbox } = u;
    const px = devicePixelRatio;
    ctx.save();
    ctx.strokeStyle = ctx.fillStyle = colour("sea");
    ctx.lineWidth = px;
    ctx.font = font(12 * px);
    ctx.textBaseline = "middle";
    ctx.textAlign = narrow(u) ? "right" : "left";
    const right = bbox.left + bbox.width;
    let last = Infinity;
    for (const level of [...this.levels].sort((a, b) => a.at - b.at)) {
      const y = u.valToPos(level.at, "y", true);
      if (y < bbox.top || y > bbox.top + bbox.height) continue;
      const at = Math.min(narrow(u) ? y + 9 * px : y, last - 15 * px);
      last = at;
      ctx.beginPath();
      ctx.moveTo(bbox.left, y);
      ctx.lineTo(right, y);
      if (!narrow(u)) ctx.lineTo(right + 8 * px, at);
      ctx.stroke();
      ctx.fillText(`${level.name} ${level.text}`, narrow(u) ? right - 2 * px : right + 12 * px, at);
    }
    ctx.restore();
  }

  private selected(u: uPlot): void {
    if (u.select.width < 4) return;
    const { left, width } = u.select;
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    this.window.look(u.posToVal(left, "x"), u.posToVal(left + width, "x"));
  }
}

/** Whether there is no room for figures beside the chart. */
function narrow(u: uPlot): boolean {
  return u.width < 520;
}

function points(line: Line): { x: number[]; low: (number | null)[]; high: (number | null)[] } {
  return { x: line.low.map((_, i) => line.begin + i * line.step), low: line.low, high: line.high };
}
