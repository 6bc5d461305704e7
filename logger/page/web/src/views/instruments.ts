// The instruments: who they are, how they answer, how fast, and what went wrong.

import type { Bench, Instrument } from "../api/shapes";
import { between, duration, timeOfDay } from "../clock";
import { h, type Part, Parts, say, set } from "../dom";
import { store } from "../live/store";
import { instruments as texts } from "../texts";
import type { View } from "../view";

/** Over how long a rate is taken, in milliseconds. */
const rateMs = 10_000;

export function instrumentsView(): View {
  const body = h("tbody");
  const rows = new Parts<Instrument>(body, (i) => i.name, () => new Row());
  const book = h("p", { class: "run-text" });
  const lately = h("ul", { class: "log" });
  const { columns } = texts;
  const element = h("section", { class: "instruments-view" }, h("header", { class: "view-head" }, h("h1", {}, texts.title)),
    h("table", { class: "stacking" }, h("thead", {}, h("tr", {}, ...[columns.name, columns.state, columns.identity, columns.port].map((c) => h("th", {}, c)),
      ...[columns.rate, columns.last, columns.count, columns.reopens].map((c) => h("th", { class: "num" }, c)))), body),
    h("h2", {}, texts.book), book, h("h2", {}, texts.lately), lately);
  return { element, title: texts.title, update };

  function update(bench: Bench): void {
    rows.update([...bench.instruments].sort((a, b) => Number(a.up) - Number(b.up)));
    const lost = Object.values(bench.book.lost_readings ?? {}).reduce((sum, n) => sum + n, 0);
    book.replaceChildren(...[[bench.book.written_readings, texts.written], [bench.book.pending_readings, texts.pending], [lost, texts.lost]].map(([n, what]) => h("span", {}, `${n} ${what}`)),
      bench.book.last_commit ? h("span", {}, `${texts.commit} ${timeOfDay(bench.book.last_commit)}`) : "", bench.book.trouble ? h("span", { class: "trouble" }, bench.book.trouble) : "");
    const events = store.happenings.filter((e) => e.instrument);
    lately.replaceChildren(...(events.length === 0 ? [h("li", { class: "quiet" }, texts.quiet)] : events.slice(0, 30).map((e) => h("li", {}, h("time", {}, timeOfDay(e.at)), ` ${e.instrument}: ${e.text ?? e.kind}`))));
  }
}

class Row implements Part<Instrument> {
  readonly element = h("tr");
  private readonly cells: Record<string, HTMLElement> = {};
  private readonly seen: { at: number; readings: number }[] = [];

  constructor() {
    for (const [name, label] of Object.entries(texts.columns)) {
      const number = ["rate", "last", "count", "reopens"].includes(name);
      this.element.append((this.cells[name] = h("td", { class: number ? "num" : "", "data-label": label })));
    }
  }

  update(i: Instrument): void {
    const now = Date.parse(store.bench!.at);
    set(this.element, "data-up", i.up);
    set(this.element, "data-stale", !store.connected || !i.up);
    const last = i.last_reading_at ? texts.ago(timeOfDay(i.last_reading_at), duration(between(i.last_reading_at, store.bench!.at))) : texts.never;
    const text: Record<string, string> = { name: i.name, state: i.up ? texts.up : `${texts.down}${i.trouble ? `: ${i.trouble}` : ""}`, identity: i.identity ?? "",
      port: i.port ?? "", rate: this.rate(now, i.readings), last, count: String(i.readings), reopens: String(i.reopens) };
    for (const [name, cell] of Object.entries(this.cells)) say(cell, text[name]!);
  }

  /** Readings a second over the last seconds. */
  private rate(now: number, readings: number): string {
    this.seen.push({ at: now, readings });
    while (this.seen.length > 2 && this.seen[1]!.at < now - rateMs) this.seen.shift();
    const first = this.seen[0]!;
    return now - first.at < 1000 ? "…" : ((readings - first.readings) / ((now - first.at) / 1000)).toFixed(1);
  }
}
