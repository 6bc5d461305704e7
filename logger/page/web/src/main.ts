// Where the page begins.

import { whenUnauthorized } from "./api/client";
import { newly } from "./live/announce";
import { follow, unfollow } from "./live/stream";
import { store } from "./live/store";
import { here, go } from "./router";
import { Shell } from "./shell";
import { shell as texts } from "./texts";
import { h } from "./dom";
import type { MakeView, View } from "./view";
import { benchView } from "./views/bench";
import { chargeView } from "./views/charge";
import { finalView } from "./views/final";
import { instrumentsView } from "./views/instruments";
import { lineView } from "./views/linefigures";
import { loginView } from "./views/login";
import { unitView } from "./views/unit";
import { unitsView } from "./views/units";

/** Views with charts are fetched when they are asked for. */
const views: Record<string, () => MakeView | Promise<MakeView>> = {
  bench: () => benchView,
  soak: async () => (await import("./views/soak")).soakView,
  units: () => unitsView,
  unit: () => unitView,
  video: async () => (await import("./views/video")).videoView,
  audio: async () => (await import("./views/audio")).audioView,
  charge: () => chargeView,
  final: () => finalView,
  figures: () => lineView,
  instruments: () => instrumentsView,
  login: () => loginView,
};

/** Views that belong to one of the header's. */
const under: Record<string, string> = { soak: "bench", unit: "units" };

const shell = new Shell();
let shown: View | null = null;
let turn = 0;
let seen = false;

async function open(): Promise<void> {
  const mine = ++turn;
  const { view, args } = here();
  const make = await (views[view] ?? nowhere)();
  if (mine !== turn) return; // another one was asked for meanwhile
  shown?.close?.();
  shown = make(args);
  shell.main.replaceChildren(shown.element);
  shell.mark(under[view] ?? view, shown.title);
  if (mine > 1) shell.main.focus({ preventScroll: true });
  window.scrollTo(0, 0);
  update();
}

function nowhere(): MakeView {
  return () => ({ element: h("section", {}, h("p", {}, texts.noSuchView)), title: "" });
}

function update(): void {
  shell.update(store.bench);
  if (!store.bench) return;
  shown?.update?.(store.bench, store.connected);
  if (!seen) performance.mark("first-view");
  seen = true;
  const change = newly(store.bench);
  if (change !== "") shell.tell(change);
}

whenUnauthorized(() => {
  unfollow();
  if (here().view !== "login") go("login", location.hash);
});
store.watch(update);
window.addEventListener("hashchange", () => void open());
void open();
follow();
