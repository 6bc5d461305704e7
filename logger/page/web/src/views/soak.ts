// A soak: its tape, what happened in it, and every test point over one time axis.

import type { ChartAnswer } from "../api/chart";
import { chart } from "../api/chart";
import { get, part, post } from "../api/client";
import type { Bench, Excursion, Gap, Soak, SoakRecord, Verdict } from "../api/shapes";
import { Window } from "../chart/window";
import { between, dayAndTime, duration } from "../clock";
import { ask, sentence } from "../dialog";
import { h, say, set, show } from "../dom";
import { Tape } from "../draw/tape";
import { store } from "../live/store";
import { to } from "../router";
import { bench as benchTexts, outcomes, soak as texts, words } from "../texts";
import type { View } from "../view";
import { type Happening, HappenedList, happenings } from "./happened";
import { columnsFor, SoakCharts } from "./soakcharts";

/** How often charts that show the present are drawn anew at most, and how many times
 * in the length that they show. */
const renewMs = 2000;
const renewals = 600;

export function soakView(args: string[]): View {
  const id = Number(args[0]);
  const element = h("section", { class: "soak-view" }, h("p", { class: "quiet" }, texts.loading));
  let page: SoakPage | null = null;
  let gone = false;
  void begin();
  return {
    element,
    title: texts.title(""),
    update: (bench) => page?.update(bench),
    close: () => {
      gone = true;
      page?.destroy();
    },
  };

  async function begin(): Promise<void> {
    const [from, until] = args.slice(1).map(Number);
    // The readings of the whole soak are on their way while its record is asked for.
    const coming = from && until ? undefined : chart(id, {}, columnsFor(document.body.clientWidth * 0.8));
    coming?.catch(() => {}); // load says what went wrong
    try {
      const record = (await get<SoakRecord[]>("/api/v1/soaks")).find((s) => s.soak === id);
      if (gone) return;
      if (!record) return element.replaceChildren(h("p", { class: "empty" }, texts.none));
      page = new SoakPage(record, element, coming);
      if (from && until) page.look(from / 1000, until / 1000);
      if (store.bench) page.update(store.bench);
    } catch (error) {
      element.replaceChildren(h("p", { class: "trouble", role: "alert" }, sentence(error)));
    }
  }
}

/** A soak that is under way, or over, on the page. */
class SoakPage {
  private readonly window: Window;
  private readonly charts: SoakCharts;
  private readonly tape: Tape;
  private readonly list: HappenedList;
  private readonly progress = h("p", { class: "run-text" });
  private readonly stamp = h("p", { class: "stamp", hidden: true });
  private readonly soFar = h("span", { class: "so-far" });
  private readonly stop: HTMLButtonElement;
  private readonly reasons = h("ul", { class: "reasons", hidden: true });
  private happened: Happening[] = [];
  private renewed = performance.now();
  private readonly end: number;

  constructor(
    private readonly record: SoakRecord,
    within: HTMLElement,
    coming: Promise<ChartAnswer> | undefined,
  ) {
    const begin = Date.parse(record.begin) / 1000;
    this.end = record.end ? Date.parse(record.end) / 1000 : 0;
    this.window = new Window({ from: begin, to: this.end || Math.max(begin + 1, this.now()) });
    this.charts = new SoakCharts(record.soak, this.window, (event) => this.key(event));
    this.tape = new Tape("tall", (from, until) => this.look(from / 1000, until / 1000));
    this.list = new HappenedList((from, until) => this.look(from, until));
    this.stop = h("button", { type: "button", class: "losing", hidden: true, onclick: () => this.askToStop() }, texts.stop);
    within.replaceChildren(this.head(), h("div", { class: "soak-tape" }, this.tape.element, this.progress), this.reasons, this.list.element, this.tools(), this.charts.element);
    this.window.watch(() => this.mark());
    void this.charts.load(coming);
    if (this.end) void this.over(coming ?? chart(record.soak, {}, 1));
  }

  look(from: number, until: number): void {
    this.window.look(from, until);
  }

  destroy(): void {
    this.charts.destroy();
  }

  update(bench: Bench): void {
    const live = bench.soaks.find((s) => s.soak === this.record.soak);
    show(this.stop, live !== undefined);
    if (live) this.live(live, bench);
    else if (!this.end) this.ended(bench.finished.find((v) => v.soak === this.record.soak));
  }

  private live(soak: Soak, bench: Bench): void {
    this.happened = happenings(soak.checks);
    this.list.update(this.happened, bench.at);
    this.charts.states(soak.checks);
    this.drawTape(soak.checks.flatMap((c) => c.excursions), soak.checks.flatMap((c) => c.gaps));
    const whole = between(soak.begin, soak.planned_end);
    const gone = between(soak.begin, bench.at);
    say(this.soFar, benchTexts.soFar[soak.so_far]);
    set(this.soFar, "data-outcome", soak.so_far);
    this.progress.replaceChildren(h("span", {}, gone < whole ? benchTexts.timeLeft(duration(gone), duration(whole), duration(whole - gone)) : benchTexts.over(duration(whole))),
      h("span", {}, benchTexts.evidence(words.percent(soak.evidence_ratio))), this.soFar);
    const pause = Math.max(renewMs, (this.window.length * 1000) / renewals);
    if (performance.now() - this.renewed < pause) return;
    this.renewed = performance.now();
    const latest = this.window.isWhole;
    this.window.extend(this.now());
    if (!latest && this.window.to >= this.now() - 2 * pause) void this.charts.load();
  }

  /** The soak has ended while it was looked at. */
  private ended(verdict: Verdict | undefined): void {
    if (!verdict) return;
    this.drawTape(verdict.excursions, []);
    this.verdict(verdict.outcome, verdict.reasons);
  }

  /** A soak that was over when it was opened: excursions and gaps come with the
   * charts, the verdict with the record. */
  private async over(coming: Promise<ChartAnswer>): Promise<void> {
    if (this.record.outcome) this.verdict(this.record.outcome, []);
    this.progress.replaceChildren(h("span", {}, benchTexts.ended(dayAndTime(this.record.end!))));
    const answer = await coming.catch(() => null);
    if (!answer) return; // the charts say why
    this.happened = happenings(answer.series);
    this.list.update(this.happened, this.record.end!);
    this.drawTape(answer.series.flatMap((s) => s.excursions), answer.series.flatMap((s) => s.gaps));
  }

  private verdict(outcome: Verdict["outcome"], reasons: string[]): void {
    show(this.stamp, true);
    say(this.stamp, outcomes[outcome]);
    set(this.stamp, "data-outcome", outcome);
    show(this.reasons, reasons.length > 0);
    this.reasons.replaceChildren(...reasons.map((r) => h("li", {}, r)));
  }

  private drawTape(excursions: Excursion[], gaps: Gap[]): void {
    const begin = Date.parse(this.record.begin);
    this.tape.update({ begin, plannedEnd: begin + this.record.planned_s * 1000, until: this.now() * 1000, gaps, excursions,
      label: benchTexts.tape(this.record.unit, words.percent(Math.min(1, (this.now() * 1000 - begin) / 1000 / this.record.planned_s)), excursions.length, gaps.length) });
    this.mark();
  }

  private mark(): void {
    if (this.window.isWhole) this.tape.choose(null);
    else this.tape.choose(this.window.from * 1000, this.window.to * 1000);
  }

  /** The bench's present, or the soak's end, in seconds since 1970. */
  private now(): number {
    return this.end || (store.bench ? Date.parse(store.bench.at) : Date.now()) / 1000;
  }

  private head(): HTMLElement {
    const { unit, console: model, place, sheet, begin, end } = this.record;
    return h("header", { class: "view-head" },
      h("div", {}, h("h1", {}, h("a", { href: to("unit", unit) }, unit)),
        h("p", { class: "quiet" }, `${model}, ${benchTexts.at(place)}; `, end ? texts.was(sheet, dayAndTime(begin), dayAndTime(end)) : texts.under(sheet, dayAndTime(begin)))),
      this.stamp,
      h("p", { class: "buttons" }, h("button", { type: "button", class: "plain", onclick: () => this.askForNote() }, texts.note), this.stop));
  }

  private tools(): HTMLElement {
    const button = (text: string, act: () => void): HTMLElement => h("button", { type: "button", class: "plain", onclick: act }, text);
    const close = h("input", { type: "checkbox", onchange: () => this.charts.comeClose(close.checked) });
    const heading = `${this.record.unit} soak ${this.record.soak}`;
    return h("div", { class: "tools" },
      button(texts.whole, () => this.window.lookAtAll()), button(texts.lastHour, () => this.window.lookAtLast(3600)), button(texts.lastMinutes, () => this.window.lookAtLast(600)),
      h("span", { class: "group" }, button(texts.earlier, () => this.window.pan(-0.5)), button(texts.later, () => this.window.pan(0.5)),
        button(texts.shorter, () => this.window.zoom(0.5)), button(texts.longer, () => this.window.zoom(2))),
      h("label", { class: "tick" }, close, h("span", {}, texts.close)),
      h("span", { class: "group" }, button(texts.png, () => this.charts.savePNG(heading)), button(texts.csv, () => this.charts.saveCSV(heading))),
      h("small", {}, texts.hint));
  }

  /** N and P go from excursion to excursion. */
  private key(event: KeyboardEvent): void {
    const forward = event.key.toLowerCase() === "n";
    if (!forward && event.key.toLowerCase() !== "p") return;
    const middle = (this.window.from + this.window.to) / 2;
    const begins = this.happened.map((e) => [Date.parse(e.from) / 1000, e.to ? Date.parse(e.to) / 1000 : this.now()] as const).sort((a, b) => a[0] - b[0]);
    const next = forward ? begins.find(([from, until]) => (from + until) / 2 > middle + 0.5) : begins.findLast(([from, until]) => (from + until) / 2 < middle - 0.5);
    if (!next) return;
    event.preventDefault();
    const around = Math.max(10, (next[1] - next[0]) * 0.6);
    this.look(next[0] - around, next[1] + around);
  }

  private askToStop(): void {
    const { unit } = this.record;
    ask({ title: texts.stopTitle(unit), body: [h("p", {}, texts.stopBody)], act: texts.stopNow, loses: true,
      fields: [{ name: "reason", label: texts.reason, hint: texts.reasonHint, required: true }] },
    ({ reason }) => post(`/api/v1/units/${part(unit)}/soak/end`, { reason }));
  }

  private askForNote(): void {
    const { unit } = this.record;
    ask({ title: `${texts.note}: ${unit}`, act: texts.note, fields: [{ name: "text", label: texts.note, type: "multiline", required: true }] },
      ({ text }) => post(`/api/v1/units/${part(unit)}/notes`, { text }));
  }
}
