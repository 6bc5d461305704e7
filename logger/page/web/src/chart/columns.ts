// Readings as a chart takes them: columns, with a break wherever there is a gap.

import type uPlot from "uplot";
import type { ChartSeries } from "../api/chart";
import type { Gap } from "../api/shapes";

/** Without a gap that is known, readings further apart than this many times their
 * usual distance are not joined. */
const unusual = 12;

/** The columns time, smallest, largest and mean. */
export type Columns = [number[], (number | null)[], (number | null)[], (number | null)[]];

export const noColumns: Columns = [[], [], [], []];

/** Puts a series into columns; nothing is drawn across a gap. */
export function columns(series: ChartSeries, gaps: readonly Gap[]): Columns {
  const breaks = gaps.map((g) => Date.parse(g.from) / 1000).sort((a, b) => a - b);
  const times = series.at_s.map((t) => series.begin_s + t);
  const lows = series.low ?? series.value ?? [];
  const highs = series.high ?? series.value ?? [];
  const means = series.mean ?? series.value ?? [];
  const far = unusual * usualStep(times);
  const [at, low, high, mean]: Columns = [[], [], [], []];
  let next = 0;
  times.forEach((t, i) => {
    const before = times[i - 1];
    while (next < breaks.length && before !== undefined && breaks[next]! < before) next++;
    const broken = before !== undefined && (t - before > far || (next < breaks.length && breaks[next]! <= t));
    if (broken) push((before + t) / 2, null, null, null);
    push(t, lows[i] ?? null, highs[i] ?? null, means[i] ?? null);
  });
  return [at, low, high, mean];

  function push(t: number, l: number | null, h: number | null, m: number | null): void {
    at.push(t);
    low.push(l);
    high.push(h);
    mean.push(m);
  }
}

function usualStep(times: number[]): number {
  if (times.length < 3) return Infinity;
  const steps = times.slice(1).map((t, i) => t - times[i]!);
  steps.sort((a, b) => a - b);
  return steps[Math.floor(steps.length / 2)]!;
}

/** As uPlot wants them. */
export function aligned(c: Columns): uPlot.AlignedData {
  return c as uPlot.AlignedData;
}

/** The smallest and the largest of what is there. */
export function extent(c: Columns): [number, number] | null {
  let low = Infinity;
  let high = -Infinity;
  for (const value of c[1]) if (value !== null && value < low) low = value;
  for (const value of c[2]) if (value !== null && value > high) high = value;
  return low <= high ? [low, high] : null;
}
