// What stands around every view: whose bench it is, its clock, whether it answers,
// and the way to the other views.

import type { Bench } from "./api/shapes";
import { timeOfDay } from "./clock";
import { h, say, set, show, svg } from "./dom";
import { store } from "./live/store";
import { to } from "./router";
import { shell } from "./texts";

export class Shell {
  readonly main = h("main", { id: "view", tabindex: -1 });
  private readonly name = h("a", { class: "bench-name", href: to("bench") }, "soakline");
  private readonly clock = h("time", { title: shell.clock });
  private readonly stream = h("span", { class: "stream" });
  private readonly trouble = h("p", { class: "banner", role: "region", "aria-label": shell.state, hidden: true });
  private readonly told = h("p", { class: "heard-only", role: "status" });
  private readonly links = new Map<string, HTMLAnchorElement>();

  constructor() {
    const nav = h("nav", { "aria-label": shell.nav });
    for (const [view, label] of Object.entries(shell.views)) {
      const link = h("a", { href: to(view) }, h("span", {}, label));
      this.links.set(view, link);
      nav.append(link);
    }
    const skip = h("button", { class: "skip", type: "button", onclick: () => this.main.focus() }, shell.skip);
    document.body.append(skip, h("header", {}, this.name, nav, h("p", { class: "clock" }, this.stream, this.clock)),
      this.trouble, this.main, this.told, hatch());
    say(this.stream, shell.connecting);
  }

  /** Marks the view that is shown. */
  mark(view: string, title: string): void {
    for (const [name, link] of this.links) set(link, "aria-current", name === view ? "page" : null);
    document.title = store.bench ? `${title} – ${store.bench.bench}` : title;
  }

  update(bench: Bench | null): void {
    const lost = !store.connected && store.lostAt !== null;
    set(document.documentElement, "data-stale", lost && bench !== null);
    if (!bench) return;
    say(this.name, bench.bench);
    say(this.clock, timeOfDay(bench.at));
    say(this.stream, lost ? "" : shell.connected);
    const why = lost ? shell.lost(timeOfDay(bench.at)) : troubleOf(bench);
    show(this.trouble, why !== "");
    say(this.trouble, why);
    // Told once when it goes and once when it comes back, not at every figure.
    if (lost) say(this.told, why);
    else if (this.told.textContent !== "" && this.told.textContent === this.lastLost) this.tell(shell.back(timeOfDay(bench.at)));
    this.lastLost = lost ? why : "";
  }
  private lastLost = "";

  /** Has something read out, once. */
  tell(text: string): void {
    say(this.told, text);
  }
}

/** The hatch that stands for what is not written yet, for every drawing. */
function hatch(): SVGSVGElement {
  const pattern = svg("pattern", { id: "hatch", width: 6, height: 6, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
    svg("path", { class: "hatch-line", d: "M0 0v6" }));
  return svg("svg", { width: 0, height: 0, "aria-hidden": "true", class: "heard-only" }, svg("defs", {}, pattern));
}

function troubleOf(bench: Bench): string {
  if (bench.book.trouble) return shell.bookTrouble(bench.book.trouble);
  const lost = Object.values(bench.book.lost_readings ?? {}).reduce((sum, n) => sum + n, 0);
  return lost > 0 ? shell.lostReadings(lost) : "";
}
