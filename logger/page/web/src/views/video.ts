// A video line: the latest record with its levels, what it says in words, a baseline
// laid under it, and the candidates of a trial side by side.

import { get, part } from "../api/client";
import type { Round, ScopeRecord, Trial } from "../api/shapes";
import { savePNG } from "../chart/export";
import { key } from "../chart/gestures";
import { whenColoursChange } from "../chart/palette";
import { type Axes, type Level, type Line, Trace } from "../chart/trace";
import { sentence } from "../dialog";
import { h, say, show } from "../dom";
import { shell, video as texts } from "../texts";
import type { View } from "../view";
import { store } from "../live/store";
import { choice, labelled, recordCaption, recordFigures, recordFindings, underOf } from "./recordparts";
import { choose } from "./units";

/** Time across in microseconds, volts up. */
const axes: Axes = { shortest: 0.5, across: (us) => `${Number(us.toPrecision(6))} µs`, up: (v) => `${Number(v.toFixed(3))} V` };

/** How often the latest record is asked for while the unit is on a soak. */
const renewMs = 3000;

export function videoView(args: string[]): View {
  const unit = args[0];
  if (!unit) return choose("video")([]);
  const element = h("section", { class: "video-view" }, h("h1", {}, texts.of(unit)), h("p", { class: "quiet" }, shell.loading));
  let page: VideoPage | null = null;
  let gone = false;
  void begin(unit, element).then((made) => {
    page = made;
    if (gone) page?.destroy();
  });
  return { element, title: texts.of(unit), update: () => page?.renew(), close: () => {
    gone = true;
    page?.destroy();
  } };
}

async function begin(unit: string, element: HTMLElement): Promise<VideoPage | null> {
  try {
    const path = `/api/v1/units/${part(unit)}`;
    const rounds = await get<Round[]>(`${path}/rounds`);
    const points = composites(unit, rounds);
    if (points.length === 0) {
      element.replaceChildren(h("h1", {}, texts.of(unit)), h("p", { class: "empty" }, texts.none));
      return null;
    }
    const page = new VideoPage(unit, points, rounds, element);
    await page.load();
    return page;
  } catch (error) {
    element.replaceChildren(h("h1", {}, texts.of(unit)), h("p", { class: "trouble", role: "alert" }, sentence(error)));
    return null;
  }
}

/** The unit's test points that give video: those at which sync is measured, in its
 * rounds or on its soak. */
function composites(unit: string, rounds: Round[]): string[] {
  const figures = rounds.flatMap((r) => r.figures.filter((f) => f.value !== null));
  const checks = store.bench?.soaks.find((s) => s.unit === unit)?.checks ?? [];
  return [...new Set([...checks, ...figures].filter((f) => f.measure === "sync").map((f) => f.test_point))];
}

class VideoPage {
  private readonly point: HTMLSelectElement;
  private readonly baseline: HTMLSelectElement;
  private readonly trial: HTMLSelectElement;
  private readonly whole = h("input", { type: "checkbox", onchange: () => this.draw() });
  private readonly box = h("div", { class: "trace", tabindex: 0, role: "group", "aria-label": texts.keys });
  private readonly caption = h("p", { class: "quiet" });
  private readonly says = h("div", { class: "says-list" });
  private readonly table = h("div");
  private readonly trials = h("div", { class: "candidates" });
  private readonly trouble = h("p", { class: "trouble", role: "alert", hidden: true });
  private trace: Trace | null = null;
  private drawnFor = "";
  private records: ScopeRecord[] = [];
  private small: Trace[] = [];
  private renewed = performance.now();
  private readonly observer = new ResizeObserver(() => this.trace?.resize(this.box.clientWidth));
  private readonly stopColours = whenColoursChange(() => [this.trace, ...this.small].forEach((t) => t?.redraw()));

  constructor(private readonly unit: string, points: string[], rounds: Round[], element: HTMLElement) {
    const load = (): void => void this.load();
    const trials = [...new Set(rounds.map((r) => r.trial).filter((t) => t !== undefined && t !== 0))];
    this.point = choice(points.map((p) => [p, p]), load);
    this.baseline = choice([["", texts.noBaseline], ...rounds.filter((r) => !r.trial).map((r): [string, string] => [r.label, r.label])], load);
    this.trial = choice([["", texts.noTrial], ...trials.map((t): [string, string] => [String(t), String(t)])], () => void this.loadTrial());
    if (this.baseline.options.length > 1) this.baseline.selectedIndex = 1;
    const png = h("button", { type: "button", class: "plain", onclick: () => this.picture() }, texts.picture);
    element.replaceChildren(h("header", { class: "view-head" }, h("div", {}, h("h1", {}, texts.of(unit)), this.caption)),
      h("div", { class: "tools fields" }, labelled(texts.point, this.point), labelled(texts.baseline, this.baseline), labelled(texts.trial, this.trial),
        h("label", { class: "tick" }, this.whole, h("span", {}, texts.whole)), png),
      this.trouble, this.box, h("div", { class: "video-text" }, h("section", {}, h("h2", {}, texts.says), this.says), h("section", {}, h("h2", {}, texts.figures), this.table)), this.trials);
    this.box.addEventListener("keydown", (event) => this.trace && key(this.trace.window, event));
    this.observer.observe(this.box);
  }

  destroy(): void {
    this.observer.disconnect();
    this.stopColours();
    this.trace?.destroy();
    for (const t of this.small) t.destroy();
  }

  /** Asks anew while the unit is on a soak. */
  renew(): void {
    if (performance.now() - this.renewed < renewMs || !store.bench?.soaks.some((s) => s.unit === this.unit)) return;
    void this.load();
  }

  async load(): Promise<void> {
    this.renewed = performance.now();
    const query = new URLSearchParams({ latest: "true", rows: "2000" });
    if (this.baseline.value) query.append("round", this.baseline.value);
    try {
      this.records = await get<ScopeRecord[]>(`${this.path()}?${query}`);
      show(this.trouble, false);
      this.draw();
    } catch (error) {
      show(this.trouble, true);
      say(this.trouble, sentence(error));
    }
  }

  private path(): string {
    return `/api/v1/units/${part(this.unit)}/records/${part(this.point.value)}`;
  }

  private draw(): void {
    const latest = this.records[0];
    if (!latest) return;
    const under = underOf(this.records);
    const line = lineOf(latest, this.whole.checked);
    const [from, to] = extentOf(line);
    const shape = `${this.point.value} ${this.whole.checked} ${(to - from).toPrecision(3)}`;
    if (shape !== this.drawnFor || !this.trace) {
      this.trace?.destroy();
      this.drawnFor = shape;
      this.trace = new Trace(this.box, this.box.clientWidth, 380, from, to, axes);
    }
    this.trace.draw(line, under && lineOf(under, this.whole.checked), levels(latest), voltsOf([latest, ...(under ? [under] : [])]));
    say(this.caption, `${recordCaption(latest)}${latest.line && !this.whole.checked ? `; ${texts.mean(latest.line.lines)}` : ""}`);
    this.says.replaceChildren(...recordFindings(latest));
    this.table.replaceChildren(recordFigures(latest, under));
  }

  /** The candidates of a trial side by side, all to one scale. */
  private async loadTrial(): Promise<void> {
    for (const t of this.small) t.destroy();
    this.small = [];
    this.trials.replaceChildren();
    if (!this.trial.value) return;
    try {
      const [records, trial] = await Promise.all([get<ScopeRecord[]>(`${this.path()}?trial=${this.trial.value}`), get<Trial>(`/api/v1/units/${part(this.unit)}/trials/${this.trial.value}`)]);
      const volts = voltsOf(records);
      const pictures = records.map((r) => {
        const at = trial.candidates.findIndex((c) => c.label === r.round);
        const box = h("div", { class: "trace" });
        const figure = h("figure", {}, h("figcaption", {}, h("b", {}, texts.candidate(trial.part, trial.candidates[at]?.text ?? r.round ?? ""))), box,
          h("ul", {}, ...trial.criteria.map((c) => h("li", {}, `${c.text}: ${c.figures[at]?.text ?? ""}`))));
        return { box, figure, r };
      });
      const best = trial.order[0]?.map((i) => trial.candidates[i]?.text).join(", ") ?? "";
      this.trials.replaceChildren(h("h2", {}, texts.order(best)), h("div", { class: "side-by-side" }, ...pictures.map((p) => p.figure)));
      for (const { box, r } of pictures) {
        const line = lineOf(r, false);
        const trace = new Trace(box, box.clientWidth, 220, ...extentOf(line), axes);
        trace.draw(line, this.records[0] ? lineOf(this.records[0], false) : null, levels(r), volts);
        this.small.push(trace);
      }
    } catch (error) {
      this.trials.replaceChildren(h("p", { class: "trouble", role: "alert" }, sentence(error)));
    }
  }

  private picture(): void {
    const at = this.records[0]?.at;
    const seconds = at ? Date.parse(at) / 1000 : 0;
    if (this.trace) savePNG(`${this.unit} ${this.point.value}`, texts.of(this.unit), seconds, seconds, [{ title: this.point.value, canvas: this.trace.canvas }]);
  }
}

/** What is drawn of a record: its mean line, or all of it where it has none. */
function lineOf(r: ScopeRecord, whole: boolean): Line {
  if (r.line && !whole) return { begin: r.line.begin_s * 1e6, step: r.line.interval_s * 1e6, low: r.line.v, high: r.line.v };
  return { begin: r.begin_s * 1e6, step: r.interval_s * 1e6, low: r.low_v, high: r.high_v };
}

function extentOf(line: Line): [number, number] {
  return [line.begin, line.begin + line.step * line.low.length];
}

/** The volts of all records, with some room. */
function voltsOf(records: ScopeRecord[]): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (const r of records) {
    for (const v of r.low_v) if (v !== null && v < low) low = v;
    for (const v of r.high_v) if (v !== null && v > high) high = v;
  }
  const margin = (high - low) * 0.06 || 0.1;
  return low <= high ? [low - margin, high + margin] : [0, 1];
}

function levels(r: ScopeRecord): Level[] {
  return r.figures.filter((f) => f.measure in texts.levels && f.value !== null).map((f) => ({ name: texts.levels[f.measure]!, at: f.value!, text: f.text.replace(/ ± .*/, "") }));
}
