// The readings of a soak as charts show them: GET /api/v1/charts.

import { get } from "./client";
import type { Excursion, Gap, SoakRecord } from "./shapes";

/** Times are seconds since 1970; those of a series count from its begin_s. */
export interface ChartAnswer {
  from_s: number;
  until_s: number;
  series: ChartSeries[];
  soaks: SoakRecord[];
}

type Column = (number | null)[];

/** One series in columns. An envelope has the smallest, largest and mean reading and
 * their number in each interval; where readings are few, each is there by itself. */
export interface ChartSeries {
  test_point: string;
  measure: string;
  instrument: string;
  unit: string;
  kind: "envelope" | "readings";
  begin_s: number;
  at_s: number[];
  low?: Column;
  high?: Column;
  mean?: Column;
  count?: number[];
  value?: Column;
  readings: number;
  limit: Limit | null;
  excursions: Excursion[];
  gaps: Gap[];
}

export interface Limit {
  low: number | null;
  high: number | null;
  accept_low: number | null;
  accept_high: number | null;
  nominal: number | null;
  source: string;
  /** What is taken off a reading before the limit applies; then the limit cannot be
   * drawn beside the readings. */
  against?: string;
}

/** What a chart shows: times in seconds since 1970, the whole soak where they are
 * left out, and one check or all of them. */
export interface Wanted {
  from?: number;
  until?: number;
  test_point?: string;
  measure?: string;
}

/** Asks for what the readings of a soak did, cut into n intervals. */
export function chart(soak: number, span: Wanted, n: number, signal?: AbortSignal): Promise<ChartAnswer> {
  const query = new URLSearchParams({ soak: String(soak), buckets: String(n) });
  if (span.from !== undefined) query.set("from_s", span.from.toFixed(6));
  if (span.until !== undefined) query.set("until_s", span.until.toFixed(6));
  for (const name of ["test_point", "measure"] as const) if (span[name] !== undefined) query.set(name, span[name]);
  return get(`/api/v1/charts?${query}`, signal);
}
