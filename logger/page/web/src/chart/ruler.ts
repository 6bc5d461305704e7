// The time axis that all charts share, with the clock of the bench.

import uPlot from "uplot";
import { benchDate, day, hourAndMinute, timeExact, timeOfDay } from "../clock";
import { colour, font } from "./palette";
import { listen } from "./gestures";
import { gutter, rightRoom } from "./strip";
import type { Window } from "./window";

const height = 40;

export class Ruler {
  private readonly plot: uPlot;
  private readonly stop: () => void;

  constructor(within: HTMLElement, width: number, private readonly window: Window, pointer: string) {
    this.plot = new uPlot({
      width, height,
      padding: [0, rightRoom, 0, gutter],
      legend: { show: false },
      tzDate: benchDate,
      cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: false, dist: 4 }, sync: { key: pointer, setSeries: false } },
      scales: { x: { time: true, auto: false, range: () => [window.from, window.to] }, y: { range: [0, 1] } },
      axes: [
        { side: 2, size: 26, gap: 4, space: 92, stroke: () => colour("ink"), font: font(12), ticks: { stroke: () => colour("ink"), size: 5, width: 1 }, grid: { show: false },
          values: (_u, splits, _axis, _space, step) => labels(splits, step) },
        { show: false },
      ],
      series: [{}, {}],
      hooks: { setSelect: [(u) => this.selected(u)] },
    }, [[window.from, window.to], [null, null]], within);
    this.stop = listen(this.plot, window);
  }

  move(): void {
    this.plot.batch(() => {
      this.plot.setData([[this.window.from, this.window.to], [null, null]], false);
      this.plot.setScale("x", { min: this.window.from, max: this.window.to });
    });
  }

  resize(width: number): void {
    this.plot.setSize({ width, height });
  }

  destroy(): void {
    this.stop();
    this.plot.destroy();
  }

  /** The ruler as it is drawn now, for an exported picture. */
  get canvas(): HTMLCanvasElement {
    return this.plot.ctx.canvas;
  }

  private selected(u: uPlot): void {
    if (u.select.width < 4) return;
    const { left, width } = u.select;
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    this.window.look(u.posToVal(left, "x"), u.posToVal(left + width, "x"));
  }
}

/** Times as long as they have to be: the day where it changes, seconds and their
 * parts only where marks are that close. */
function labels(splits: number[], step: number): string[] {
  let before = "";
  return splits.map((t) => {
    const ms = t * 1000;
    const today = day(ms);
    const time = step < 1 ? timeExact(ms) : step < 60 ? timeOfDay(ms) : hourAndMinute(ms);
    const text = before !== "" && today !== before ? today.replace(/ \d{4}$/, "") : time;
    before = today;
    return step >= 86_400 ? today.replace(/ \d{4}$/, "") : text;
  });
}
