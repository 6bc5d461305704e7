// The stream of events: opened, watched, and opened again when it has gone.

import type { Bench } from "../api/shapes";
import { get } from "../api/client";
import { type Change, type Happening, store } from "./store";

/** The daemon says something at least every two seconds; this long without a word,
 * and it is gone. */
const patienceMs = 5000;
/** How soon it is tried again, and how much longer each time up to the longest. */
const againMs = { first: 250, factor: 1.6, longest: 3000 };

let source: EventSource | null = null;
let watchdog = 0;
let delay = againMs.first;
let waiting = 0;

/** Opens the stream and keeps it open. */
export function follow(): void {
  unfollow();
  source = new EventSource("/api/v1/events");
  on<{ bench: Bench }>("snapshot", ({ bench }) => store.take(bench));
  on<Change>("change", (change) => store.merge(change));
  on<Happening>("happening", (happening) => store.happened(happening));
  on<{ at: string }>("beat", ({ at }) => store.beat(at));
  source.onerror = again;
  watchdog = window.setTimeout(again, patienceMs);
}

/** Closes the stream; nothing is tried until follow is called. */
export function unfollow(): void {
  source?.close();
  source = null;
  window.clearTimeout(watchdog);
  window.clearTimeout(waiting);
}

function on<T>(event: string, take: (data: T) => void): void {
  source!.addEventListener(event, (message) => {
    window.clearTimeout(watchdog);
    watchdog = window.setTimeout(again, patienceMs);
    delay = againMs.first;
    take(JSON.parse((message as MessageEvent<string>).data) as T);
    store.connection(true);
  });
}

/** The stream is gone. Asking once more as well tells a daemon that wants a token
 * from one that is not there. */
function again(): void {
  unfollow();
  store.connection(false);
  void get<Bench>("/api/v1/bench").catch(() => {});
  waiting = window.setTimeout(follow, delay);
  delay = Math.min(delay * againMs.factor, againMs.longest);
}
