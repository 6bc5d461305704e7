// The charts of a soak: every check over one time axis.

import { type ChartAnswer, type ChartSeries, chart } from "../api/chart";
import type { Check } from "../api/shapes";
import { timeOfDay } from "../clock";
import { columns } from "../chart/columns";
import { type Picture, type Row, saveCSV, savePNG } from "../chart/export";
import { key } from "../chart/gestures";
import { whenColoursChange } from "../chart/palette";
import { Ruler } from "../chart/ruler";
import { gutter, Strip } from "../chart/strip";
import type { Window } from "../chart/window";
import { sentence } from "../dialog";
import { h, say, set, show } from "../dom";
import { range, type Scale, scaleFor, stepped } from "../number";
import { soak as texts, states } from "../texts";

/** How long the window has to stand still before readings are asked for. */
const calmMs = 60;
const stripHeight = 112;
/** The height of a chart that stands alone, as a share of the window's. */
const aloneShare = 0.5;

/** How many intervals a chart of a width in pixels is cut into. */
export function columnsFor(width: number): number {
  return Math.max(200, Math.min(2000, Math.round(width)));
}

interface Shown {
  strip: Strip;
  series: ChartSeries;
  scale: Scale;
  state: HTMLElement;
  readout: HTMLElement;
  label: HTMLElement;
  row: HTMLElement;
}

export class SoakCharts {
  readonly element: HTMLElement;
  private readonly rulerBox = h("div", { class: "ruler" });
  private readonly rows = h("div", { class: "strips" });
  private readonly note = h("p", { class: "chart-note", role: "status" }, texts.loading);
  private readonly shown = new Map<string, Shown>();
  private ruler: Ruler | null = null;
  private asked: AbortController | null = null;
  private timer = 0;
  private close = false;
  private order: string[] = [];
  /** The check whose chart stands alone; null while all are shown. */
  private alone: Shown | null = null;
  private readonly observer: ResizeObserver;
  private readonly stopColours: () => void;

  constructor(private readonly id: number, private readonly window: Window, onKey: (event: KeyboardEvent) => void) {
    this.element = h("div", { class: "charts", tabindex: 0, role: "group", "aria-label": texts.charts }, this.rulerBox, this.note, this.rows);
    this.element.addEventListener("keydown", (event) => {
      if (!key(window, event)) onKey(event);
    });
    this.say();
    window.watch(() => this.moved());
    this.observer = new ResizeObserver(() => this.resize());
    this.observer.observe(this.rulerBox);
    this.stopColours = whenColoursChange(() => {
      for (const s of this.shown.values()) s.strip.move();
      this.ruler?.move();
    });
  }

  destroy(): void {
    this.asked?.abort();
    window.clearTimeout(this.timer);
    this.observer.disconnect();
    this.stopColours();
    this.ruler?.destroy();
    for (const s of this.shown.values()) s.strip.destroy();
  }

  /** Asks for the readings of the window and draws them, unless they have been asked
   * for already. */
  async load(coming?: Promise<ChartAnswer>): Promise<void> {
    this.asked?.abort();
    const asked = (this.asked = new AbortController());
    try {
      const answer = await (coming ?? chart(this.id, { from: this.window.from, until: this.window.to, ...this.aloneQuery() }, columnsFor(this.width - gutter), asked.signal));
      if (asked.signal.aborted) return;
      for (const series of answer.series) this.draw(series);
      this.sort(this.order);
      show(this.note, answer.series.length === 0);
      say(this.note, texts.none_here);
      performance.mark("charts-drawn");
    } catch (error) {
      if (asked.signal.aborted) return;
      show(this.note, true);
      say(this.note, texts.failed(sentence(error)));
    }
  }

  /** Shows how the checks stand that are under way, in the sheet's order but for
   * those that have been outside, which come first. */
  states(checks: readonly Check[]): void {
    this.order = checks.map(name);
    this.sort(this.order);
    for (const check of checks) {
      const shown = this.shown.get(name(check));
      if (!shown) continue;
      say(shown.state, states[check.state]);
      set(shown.row, "data-state", check.state);
    }
  }

  private sort(order: string[]): void {
    const place = (s: Shown): number => order.indexOf(name(s.series)) - (s.series.excursions.length > 0 ? 1e6 : 0);
    const wanted = [...this.shown.values()].sort((a, b) => place(a) - place(b));
    wanted.forEach((s, i) => {
      if (this.rows.children[i] !== s.row) this.rows.insertBefore(s.row, this.rows.children[i] ?? null);
    });
  }

  comeClose(close: boolean): void {
    this.close = close;
    for (const s of this.shown.values()) s.strip.comeClose(close);
  }

  savePNG(heading: string): void {
    const pictures: Picture[] = this.seen().map((s) => ({ title: `${name(s.series)} / ${s.scale.symbol}`, canvas: s.strip.plot.ctx.canvas }));
    if (this.ruler) pictures.push({ title: "", canvas: this.ruler.canvas });
    savePNG(heading, heading, this.window.from, this.window.to, pictures);
  }

  saveCSV(heading: string): void {
    saveCSV(heading, this.figures());
  }

  private seen(): Shown[] {
    return this.alone ? [this.alone] : [...this.shown.values()];
  }

  /** The figures that are drawn, those of one chart after those of another. */
  private *figures(): Generator<Row> {
    for (const { series, strip } of this.seen()) {
      const [at, low, high, mean] = strip.data;
      for (const [i, t] of at.entries()) {
        if (t < this.window.from || t > this.window.to || mean[i] === null) continue;
        yield { time: new Date(t * 1000).toISOString(), test_point: series.test_point, measure: series.measure, unit: series.unit,
          low: low[i] ?? null, mean: mean[i] ?? null, high: high[i] ?? null };
      }
    }
  }

  /** Lets one chart stand alone, or shows all again. */
  private toggleAlone(of: Shown): void {
    this.alone = this.alone === of ? null : of;
    for (const s of this.shown.values()) {
      show(s.row, this.alone === null || s === this.alone);
      set(s.label, "aria-pressed", String(s === this.alone));
      s.strip.resize(this.width, s === this.alone ? Math.round(window.innerHeight * aloneShare) : stripHeight);
    }
    void this.load();
  }

  private aloneQuery(): { test_point?: string; measure?: string } {
    return this.alone ? { test_point: this.alone.series.test_point, measure: this.alone.series.measure } : {};
  }

  /** Writes on the charts' element which time they show. */
  private say(): void {
    set(this.element, "data-from", this.window.from);
    set(this.element, "data-to", this.window.to);
  }

  private get width(): number {
    return this.rulerBox.clientWidth;
  }

  private moved(): void {
    this.say();
    for (const s of this.shown.values()) s.strip.move();
    this.ruler?.move();
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.load(), calmMs);
  }

  private resize(): void {
    if (this.width === 0) return;
    if (!this.ruler) this.ruler = new Ruler(this.rulerBox, this.width, this.window, `soak-${this.id}`);
    this.ruler.resize(this.width);
    for (const s of this.shown.values()) s.strip.resize(this.width, s === this.alone ? Math.round(window.innerHeight * aloneShare) : stripHeight);
  }

  private draw(series: ChartSeries): void {
    const shown = this.shown.get(name(series)) ?? this.make(series);
    shown.series = series;
    const limit = series.limit?.against ? null : series.limit;
    shown.strip.draw(columns(series, series.gaps), { low: limit?.low ?? null, high: limit?.high ?? null,
      guard_low: limit?.accept_low ?? null, guard_high: limit?.accept_high ?? null }, series.excursions);
  }

  private make(series: ChartSeries): Shown {
    const size = Math.max(Math.abs(series.limit?.low ?? 0), Math.abs(series.limit?.high ?? 0), ...(series.limit?.low == null && series.limit?.high == null ? [1] : []));
    const scale = scaleFor(size, series.unit);
    const box = h("div", { class: "strip" });
    const state = h("span", { class: "state" });
    const readout = h("span", { class: "readout" });
    const label = h("button", { type: "button", "aria-pressed": "false", title: texts.alone, onclick: () => this.toggleAlone(shown) },
      h("b", {}, series.test_point), h("span", { class: "measure" }, `${series.measure} / ${scale.symbol}`));
    const row = h("div", { class: "strip-row" }, h("div", { class: "strip-label" }, label, state, readout), box);
    set(box, "role", "img");
    set(box, "aria-label", name(series));
    this.rows.append(row);
    const strip = new Strip(box, this.width, { window: this.window, pointer: `soak-${this.id}`, height: stripHeight,
      onPoint: (i) => this.point(name(series), i), decimals: (step) => stepped(scale, step) });
    const shown: Shown = { strip, series, scale, state, readout, label, row };
    this.shown.set(name(series), shown);
    if (this.close) strip.comeClose(true);
    return shown;
  }

  /** Says what is at the pointer. */
  private point(of: string, i: number | null): void {
    const shown = this.shown.get(of);
    if (!shown) return;
    const [at, low, high] = shown.strip.data;
    const t = i === null ? undefined : at[i];
    say(shown.readout, t === undefined ? "" : `${timeOfDay(t * 1000)}  ${range(low[i!] ?? null, high[i!] ?? null, shown.scale)}`);
  }
}

function name(of: { test_point: string; measure: string }): string {
  return `${of.test_point} ${of.measure}`;
}
