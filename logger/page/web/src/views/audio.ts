// An audio output: the spectrum of its latest record with the level, what it says in
// words, and a baseline laid under it.

import { get, part } from "../api/client";
import type { Round, ScopeRecord } from "../api/shapes";
import { savePNG } from "../chart/export";
import { key } from "../chart/gestures";
import { whenColoursChange } from "../chart/palette";
import { type Axes, type Level, type Line, Trace } from "../chart/trace";
import { sentence } from "../dialog";
import { h, say, show } from "../dom";
import { store } from "../live/store";
import { audio as texts, record as words, shell } from "../texts";
import type { View } from "../view";
import { choice, labelled, recordCaption, recordFigures, recordFindings, underOf } from "./recordparts";
import { choose } from "./units";

/** How often the latest record is asked for while the unit is on a soak. */
const renewMs = 3000;

/** Measures that only a record of audio has. */
const ofAudio = new Set(["crest-factor", "noise-a-weighted", "harmonic-distortion", "distortion-and-noise", "channel-balance", "click"]);

/** How far down a spectrum is shown, in dB below its highest. */
const deepest = 130;

/** Decades across, dBV up. */
const axes: Axes = {
  shortest: 0.05,
  across: (decade) => {
    const hertz = Number((10 ** decade).toPrecision(4));
    return hertz >= 1000 ? `${hertz / 1000} kHz` : `${hertz} Hz`;
  },
  up: (dbv) => `${Number(dbv.toFixed(2))} dBV`,
  stops: [10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000].map((hertz) => Math.log10(hertz)),
};

export function audioView(args: string[]): View {
  const unit = args[0];
  if (!unit) return choose("audio")([]);
  const element = h("section", { class: "video-view" }, h("h1", {}, texts.of(unit)), h("p", { class: "quiet" }, shell.loading));
  let page: AudioPage | null = null;
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

async function begin(unit: string, element: HTMLElement): Promise<AudioPage | null> {
  try {
    const rounds = await get<Round[]>(`/api/v1/units/${part(unit)}/rounds`);
    const figures = [...(store.bench?.soaks.find((s) => s.unit === unit)?.checks ?? []), ...rounds.flatMap((r) => r.figures.filter((f) => f.value !== null))];
    const points = [...new Set(figures.filter((f) => ofAudio.has(f.measure)).map((f) => f.test_point))];
    if (points.length === 0) {
      element.replaceChildren(h("h1", {}, texts.of(unit)), h("p", { class: "empty" }, texts.none));
      return null;
    }
    const page = new AudioPage(unit, points, rounds, element);
    await page.load();
    return page;
  } catch (error) {
    element.replaceChildren(h("h1", {}, texts.of(unit)), h("p", { class: "trouble", role: "alert" }, sentence(error)));
    return null;
  }
}

class AudioPage {
  private readonly point: HTMLSelectElement;
  private readonly baseline = choice([], () => void this.load());
  private readonly box = h("div", { class: "trace", tabindex: 0, role: "group", "aria-label": texts.keys });
  private readonly caption = h("p", { class: "quiet" });
  private readonly says = h("div", { class: "says-list" });
  private readonly table = h("div");
  private readonly trouble = h("p", { class: "trouble", role: "alert", hidden: true });
  private trace: Trace | null = null;
  private drawnFor = "";
  private at: string | null = null;
  private renewed = performance.now();
  private readonly observer = new ResizeObserver(() => this.trace?.resize(this.box.clientWidth));
  private readonly stopColours = whenColoursChange(() => this.trace?.redraw());

  constructor(private readonly unit: string, points: string[], private readonly rounds: Round[], element: HTMLElement) {
    this.point = choice(points.map((p) => [p, p]), () => {
      this.offerBaselines();
      void this.load();
    });
    this.offerBaselines();
    element.replaceChildren(h("header", { class: "view-head" }, h("div", {}, h("h1", {}, texts.of(unit)), this.caption)),
      h("div", { class: "tools fields" }, labelled(words.point, this.point), labelled(words.baseline, this.baseline),
        h("button", { type: "button", class: "plain", onclick: () => this.picture() }, words.picture)),
      this.trouble, this.box, h("div", { class: "video-text" }, h("section", {}, h("h2", {}, words.says), this.says), h("section", {}, h("h2", {}, words.figures), this.table)));
    this.box.addEventListener("keydown", (event) => this.trace && key(this.trace.window, event));
    this.observer.observe(this.box);
  }

  /** Offers the rounds that have a record of the test point, the first of them chosen. */
  private offerBaselines(): void {
    const taken = this.rounds.filter((r) => !r.trial && r.figures.some((f) => f.test_point === this.point.value && f.value !== null && ofAudio.has(f.measure)));
    this.baseline.replaceChildren(h("option", { value: "" }, words.noBaseline), ...taken.map((r) => h("option", { value: r.label }, r.label)));
    this.baseline.selectedIndex = taken.length > 0 ? 1 : 0;
  }

  destroy(): void {
    this.observer.disconnect();
    this.stopColours();
    this.trace?.destroy();
  }

  /** Asks anew while the unit is on a soak. */
  renew(): void {
    if (performance.now() - this.renewed < renewMs || !store.bench?.soaks.some((s) => s.unit === this.unit)) return;
    void this.load();
  }

  async load(): Promise<void> {
    this.renewed = performance.now();
    const query = new URLSearchParams({ latest: "true", rows: "16" });
    if (this.baseline.value) query.append("round", this.baseline.value);
    try {
      const records = await get<ScopeRecord[]>(`/api/v1/units/${part(this.unit)}/records/${part(this.point.value)}?${query}`);
      show(this.trouble, false);
      if (records[0]) this.draw(records[0], underOf(records));
    } catch (error) {
      show(this.trouble, true);
      say(this.trouble, sentence(error));
    }
  }

  private draw(latest: ScopeRecord, under: ScopeRecord | null): void {
    this.at = latest.at;
    say(this.caption, latest.spectrum ? recordCaption(latest) : texts.noSpectrum(recordCaption(latest)));
    this.says.replaceChildren(...recordFindings(latest));
    this.table.replaceChildren(recordFigures(latest, under));
    const line = spectrumOf(latest);
    if (!line) return;
    const below = under && spectrumOf(under);
    const to = Math.max(line.begin + line.step * line.low.length, below ? below.begin + below.step * below.low.length : 0);
    const shape = `${this.point.value} ${to.toPrecision(3)}`;
    if (shape !== this.drawnFor || !this.trace) {
      this.trace?.destroy();
      this.drawnFor = shape;
      this.trace = new Trace(this.box, this.box.clientWidth, 380, line.begin, to, axes);
    }
    this.trace.draw(line, below, levels(latest), stretchOf([line, ...(below ? [below] : [])]));
  }

  private picture(): void {
    const seconds = this.at ? Date.parse(this.at) / 1000 : 0;
    if (this.trace) savePNG(`${this.unit} ${this.point.value}`, texts.of(this.unit), seconds, seconds, [{ title: this.point.value, canvas: this.trace.canvas }]);
  }
}

function spectrumOf(r: ScopeRecord): Line | null {
  const s = r.spectrum;
  return s && s.high_dbv.length > 1 ? { begin: Math.log10(s.begin_hz), step: 1 / s.per_decade, low: s.low_dbv, high: s.high_dbv } : null;
}

/** From the highest of all down to what is worth looking at. */
function stretchOf(lines: Line[]): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (const line of lines) {
    for (const v of line.high) if (v !== null && v > high) high = v;
    for (const v of line.low) if (v !== null && v < low) low = v;
  }
  return low <= high ? [Math.max(low, high - deepest) - 4, high + 4] : [-deepest, 0];
}

/** The level as a ruler. */
function levels(r: ScopeRecord): Level[] {
  const level = r.figures.find((f) => f.measure === "ac-voltage")?.value ?? 0;
  const dbv = 20 * Math.log10(level);
  return level > 0 ? [{ name: texts.level, at: dbv, text: `${dbv.toFixed(2)} dBV` }] : [];
}
