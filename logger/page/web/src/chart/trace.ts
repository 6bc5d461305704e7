// Lines of video over each other: the latest in ink, what it is held against in
// ochre under it, measured levels as rulers with their figure at the right edge.

import uPlot from "uplot";
import { listen } from "./gestures";
import { colour, font } from "./palette";
import { Window } from "./window";

/** One line that is drawn. Times in seconds, volts. */
export interface Line {
  beginS: number;
  intervalS: number;
  low: (number | null)[];
  high: (number | null)[];
}

/** A level that was measured. */
export interface Level {
  name: string;
  volts: number;
  text: string;
}

/** The shortest time that can be looked at, in microseconds. */
const shortestUs = 0.5;

export class Trace {
  private readonly plot: uPlot;
  readonly window: Window;
  private levels: readonly Level[] = [];
  private readonly stop: () => void;
  private stretch: [number, number] = [0, 1];

  constructor(within: HTMLElement, width: number, private readonly height: number, fromUs: number, toUs: number) {
    this.window = new Window({ from: fromUs, to: toUs }, shortestUs);
    this.plot = new uPlot(this.settings(width), [[], [], [], [], []], within);
    this.stop = listen(this.plot, this.window);
    this.window.watch(() => this.plot.setScale("x", { min: this.window.from, max: this.window.to }));
  }

  /** Draws a line over another, with its levels. */
  draw(line: Line, under: Line | null, levels: readonly Level[], volts: [number, number]): void {
    this.levels = levels;
    this.stretch = volts;
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
      padding: [10, 140, 0, 0],
      legend: { show: false },
      cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: false, dist: 4 } },
      scales: { x: { time: false, auto: false, range: () => [this.window.from, this.window.to] }, y: { range: () => this.stretch } },
      axes: [{ ...axis, size: 30, values: (_u, splits) => splits.map((s) => `${Number(s.toPrecision(6))} µs`) }, { ...axis, size: 58, gap: 8, values: (_u, splits) => splits.map((s) => `${Number(s.toFixed(3))} V`) }],
      series: [{},
        { ...line, stroke: () => colour("ochre"), width: 2.6 }, { ...line, stroke: () => colour("ochre"), width: 2.6 },
        { ...line, stroke: () => colour("ink"), width: 1.4 }, { ...line, stroke: () => colour("ink"), width: 1.4 }],
      bands: [{ series: [4, 3], fill: () => colour("ink-soft") }],
      hooks: { drawAxes: [(u) => this.rulers(u)], setSelect: [(u) => this.selected(u)] },
    };
  }

  /** Measured levels, their figures at the right edge, moved apart where they would
   * lie over each other. */
  private rulers(u: uPlot): void {
    const { ctx, bbox } = u;
    const px = devicePixelRatio;
    ctx.save();
    ctx.strokeStyle = ctx.fillStyle = colour("sea");
    ctx.lineWidth = px;
    ctx.font = font(12 * px);
    ctx.textBaseline = "middle";
    ctx.textAlign = "left";
    let last = Infinity;
    for (const level of [...this.levels].sort((a, b) => a.volts - b.volts)) {
      const y = u.valToPos(level.volts, "y", true);
      if (y < bbox.top || y > bbox.top + bbox.height) continue;
      const at = Math.min(y, last - 15 * px);
      last = at;
      ctx.beginPath();
      ctx.moveTo(bbox.left, y);
      ctx.lineTo(bbox.left + bbox.width, y);
      ctx.lineTo(bbox.left + bbox.width + 8 * px, at);
      ctx.stroke();
      ctx.fillText(`${level.name} ${level.text}`, bbox.left + bbox.width + 12 * px, at);
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

function points(line: Line): { x: number[]; low: (number | null)[]; high: (number | null)[] } {
  return { x: line.low.map((_, i) => (line.beginS + i * line.intervalS) * 1e6), low: line.low, high: line.high };
}
