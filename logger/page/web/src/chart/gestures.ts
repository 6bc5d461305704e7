// Zooming and panning a chart: the wheel, one finger and two, a dragged stretch, a
// drag with Shift.

import type uPlot from "uplot";
import type { Window } from "./window";

/** How much one step of the wheel zooms. */
const step = 1.2;

/** Lets a chart's plotting area move the window; what it returns ends that. */
export function listen(u: uPlot, window: Window): () => void {
  const stop = new AbortController();
  const { signal } = stop;
  u.over.addEventListener("wheel", (event) => wheel(u, window, event), { passive: false, signal });
  fingers(u, window, signal);
  shiftDrag(u, window, signal);
  return () => stop.abort();
}

function wheel(u: uPlot, window: Window, event: WheelEvent): void {
  if (event.deltaX === 0 && event.deltaY === 0) return;
  event.preventDefault();
  const sideways = event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY);
  if (sideways) {
    window.pan(((event.deltaX || event.deltaY) / u.over.clientWidth) * 0.8);
    return;
  }
  const about = u.posToVal(event.clientX - u.over.getBoundingClientRect().left, "x");
  window.zoom(step ** Math.sign(event.deltaY), about);
}

/** One finger pans, two zoom; up and down is left to the page. */
function fingers(u: uPlot, window: Window, signal: AbortSignal): void {
  const down = new Map<number, number>();
  const value = (x: number): number => u.posToVal(x - u.over.getBoundingClientRect().left, "x");
  u.over.addEventListener("pointerdown", (e) => {
    if (e.pointerType === "touch") down.set(e.pointerId, e.clientX);
  }, { signal });
  u.over.addEventListener("pointermove", (e) => {
    if (!down.has(e.pointerId)) return;
    const before = [...down.values()];
    down.set(e.pointerId, e.clientX);
    const after = [...down.values()];
    if (after.length === 1) {
      window.pan((before[0]! - after[0]!) / u.over.clientWidth);
    } else if (after.length === 2) {
      const apart = Math.abs(after[0]! - after[1]!);
      const was = Math.abs(before[0]! - before[1]!);
      if (apart > 4 && was > 4) window.zoom(was / apart, value((after[0]! + after[1]!) / 2));
    }
  }, { signal });
  for (const name of ["pointerup", "pointercancel", "pointerleave"] as const) {
    u.over.addEventListener(name, (e) => void down.delete(e.pointerId), { signal });
  }
}

/** Dragging with Shift held pans; without it a stretch is marked, which uPlot does. */
function shiftDrag(u: uPlot, window: Window, signal: AbortSignal): void {
  let last: number | null = null;
  u.over.addEventListener("mousedown", (e) => {
    if (!e.shiftKey) return;
    e.stopImmediatePropagation();
    last = e.clientX;
  }, { capture: true, signal });
  document.addEventListener("mousemove", (e) => {
    if (last === null) return;
    window.pan((last - e.clientX) / u.over.clientWidth);
    last = e.clientX;
  }, { signal });
  document.addEventListener("mouseup", () => {
    last = null;
  }, { signal });
}

/** What the keys do, on any part of the charts. Returns whether it was one of them. */
export function key(window: Window, event: KeyboardEvent): boolean {
  if (event.ctrlKey || event.altKey || event.metaKey) return false;
  const does: Record<string, () => void> = {
    ArrowLeft: () => window.pan(-0.2),
    ArrowRight: () => window.pan(0.2),
    "+": () => window.zoom(1 / 1.5),
    "=": () => window.zoom(1 / 1.5),
    "-": () => window.zoom(1.5),
    Home: () => window.lookAtAll(),
    End: () => window.lookAtLast(window.length),
  };
  const act = does[event.key];
  if (!act) return false;
  event.preventDefault();
  act();
  return true;
}
