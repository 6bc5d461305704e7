// The last minutes of every check, for its trend: gathered as figures come, and the
// minutes before the page was opened asked for once.

import type { Bench, Check, Soak } from "../api/shapes";
import { type ChartAnswer, chart } from "../api/chart";
import { Recent, trendMs } from "../draw/trend";

const kept = new Map<string, Recent>();
const asked = new Set<number>();

function key(soak: Soak, check: { test_point: string; measure: string }): string {
  return `${soak.soak} ${check.test_point} ${check.measure}`;
}

/** The last minutes of a check. */
export function recent(soak: Soak, check: { test_point: string; measure: string }): Recent {
  const name = key(soak, check);
  let found = kept.get(name);
  if (!found) kept.set(name, (found = new Recent()));
  return found;
}

/** Takes in how the bench stands now. */
export function remember(bench: Bench): void {
  for (const soak of bench.soaks) {
    for (const check of soak.checks) take(soak, check);
    if (!asked.has(soak.soak)) void fill(soak, Date.parse(bench.at));
  }
}

function take(soak: Soak, check: Check): void {
  if (check.at === null) return;
  recent(soak, check).add(Date.parse(check.at), check.state === "silent" ? NaN : (check.value ?? NaN));
}

async function fill(soak: Soak, now: number): Promise<void> {
  asked.add(soak.soak);
  const from = Math.max(Date.parse(soak.begin), now - trendMs);
  if (now - from < 1000) return;
  try {
    before(soak, await chart(soak.soak, { from: from / 1000, until: now / 1000 }, 100));
  } catch {
    // The trend begins with what comes from now on.
  }
}

function before(soak: Soak, answer: ChartAnswer): void {
  for (const series of answer.series) {
    const values = series.mean ?? series.value ?? [];
    recent(soak, series).before(series.at_s.map((t) => (series.begin_s + t) * 1000), values.map((v) => v ?? NaN));
  }
}
