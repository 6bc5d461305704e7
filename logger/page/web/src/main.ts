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

const views: Record<string, () => Promise<MakeView>> = {
  bench: async () => benchView,
  soak: async () => (await import("./views/soak")).soakView,
  units: async () => (await import("./views/units")).unitsView,
  unit: async () => (await import("./views/unit")).unitView,
  video: async () => (await import("./views/video")).videoView,
  charge: async () => (await import("./views/charge")).chargeView,
  final: async () => (await import("./views/final")).finalView,
  figures: async () => (await import("./views/linefigures")).lineView,
  instruments: async () => (await import("./views/instruments")).instrumentsView,
  login: async () => (await import("./views/login")).loginView,
};

/** Views that belong to one of the header's. */
const under: Record<string, string> = { soak: "bench", unit: "units" };

const shell = new Shell();
let shown: View | null = null;
let turn = 0;

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

async function nowhere(): Promise<MakeView> {
  return () => ({ element: h("section", {}, h("p", {}, texts.noSuchView)), title: "" });
}

function update(): void {
  shell.update(store.bench);
  if (!store.bench) return;
  shown?.update?.(store.bench, store.connected);
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
