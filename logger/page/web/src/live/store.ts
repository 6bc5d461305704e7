// How the bench stands, as the page knows it, and who wants to be told.

import type { Bench, BookHealth, Check, Instrument, Soak, Verdict } from "../api/shapes";
import { setZone } from "../clock";

/** What has changed since the event before: the event "change". What it names takes
 * the place of what the page has. */
export interface Change {
  at: string;
  checks?: (Partial<Check> & Pick<Check, "test_point" | "measure"> & { soak: number })[];
  soaks?: Soak[];
  gone?: number[];
  instruments?: Instrument[];
  finished?: Verdict[];
  book?: BookHealth;
}

type Listener = () => void;

/** Something that happened at the bench: the event "happening". */
export interface Happening {
  at: string;
  kind: string;
  unit?: string;
  instrument?: string;
  test_point?: string;
  measure?: string;
  from?: string;
  to?: string;
  text?: string;
}

/** How many happenings are kept for those who look. */
const keptHappenings = 200;

class Store {
  bench: Bench | null = null;
  /** What happened since the page was opened, the latest first. */
  happenings: Happening[] = [];
  /** Whether the stream runs; while it does not, no figure is fresh. */
  connected = false;
  /** When the stream was lost, by the browser's clock; null while it runs. */
  lostAt: number | null = Date.now();
  private readonly listeners = new Set<Listener>();
  private asked = false;

  /** Tells of changes, at most once a frame, until what it returns is called. */
  watch(listener: Listener): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  take(bench: Bench): void {
    setZone(bench.zone, bench.at);
    this.bench = bench;
    this.changed();
  }

  merge(change: Change): void {
    const bench = this.bench;
    if (!bench) return;
    bench.at = change.at;
    for (const soak of change.soaks ?? []) replace(bench.soaks, soak, (s) => s.soak === soak.soak);
    if (change.gone) bench.soaks = bench.soaks.filter((s) => !change.gone!.includes(s.soak));
    for (const { soak, ...check } of change.checks ?? []) {
      const known = bench.soaks.find((s) => s.soak === soak)?.checks;
      const old = known?.find((c) => c.test_point === check.test_point && c.measure === check.measure);
      if (old) Object.assign(old, check);
    }
    for (const instrument of change.instruments ?? []) replace(bench.instruments, instrument, (i) => i.name === instrument.name);
    if (change.finished) bench.finished = change.finished;
    if (change.book) bench.book = change.book;
    this.changed();
  }

  happened(happening: Happening): void {
    this.happenings = [happening, ...this.happenings].slice(0, keptHappenings);
    this.changed();
  }

  beat(at: string): void {
    if (this.bench) this.bench.at = at;
    this.changed();
  }

  connection(up: boolean): void {
    if (up === this.connected) return;
    this.connected = up;
    this.lostAt = up ? null : Date.now();
    this.changed();
  }

  private changed(): void {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      for (const listener of this.listeners) listener();
    });
  }
}

/** Puts an item in the place of the one that it is, or at the end. */
function replace<T>(list: T[], item: T, same: (known: T) => boolean): void {
  const i = list.findIndex(same);
  if (i < 0) list.push(item);
  else list[i] = item;
}

export const store = new Store();
