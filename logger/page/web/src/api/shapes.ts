// What the daemon answers: the JSON of /api/v1, as logger/page writes it. SI units,
// times as RFC 3339 text, null for what is not known. Here is how the bench stands;
// kept.ts and tested.ts have what the book keeps of units, and how they are tested.

import type { Finding, Outcome, State } from "./words";

export type * from "./kept";
export type * from "./tested";
export type * from "./words";

/** How the bench stands: GET /api/v1/bench, and the event "bench". */
export interface Bench {
  bench: string;
  at: string;
  /** The bench's time zone by its IANA name; absent where the host does not say. */
  zone?: string;
  instruments: Instrument[];
  places: string[];
  /** The models that there are test sheets for. */
  consoles: string[];
  soaks: Soak[];
  finished: Verdict[];
  book: BookHealth;
}

export interface Instrument {
  name: string;
  up: boolean;
  port?: string;
  identity?: string;
  readings: number;
  reopens: number;
  last_reading_at: string | null;
  trouble?: string;
}

export interface BookHealth {
  pending_readings: number;
  written_readings: number;
  lost_readings: Record<string, number> | null;
  last_commit: string | null;
  trouble?: string;
}

export interface Soak {
  soak: number;
  unit: string;
  console: string;
  place: string;
  sheet: string;
  begin: string;
  planned_end: string;
  progress_ratio: number;
  evidence_ratio: number | null;
  so_far: Outcome;
  checks: Check[];
  worst: number;
  findings: Record<string, Finding[]>;
}

/** One check of a soak. guard_low and guard_high are what the guard bands leave of
 * the limit; trail_low and trail_high where the figure has been lately. */
export interface Check {
  test_point: string;
  measure: string;
  instrument: string;
  unit: string;
  state: State;
  since: string;
  at: string | null;
  value: number | null;
  figure: number | null;
  u: number | null;
  low: number | null;
  high: number | null;
  nominal: number | null;
  guard_low: number | null;
  guard_high: number | null;
  trail_low: number | null;
  trail_high: number | null;
  text: string;
  share_ratio: number | null;
  readings: number;
  refused?: string;
  excursions: Excursion[];
  gaps: Gap[];
  drift?: Drift;
}

export interface Drift {
  learnt: boolean;
  slope_per_hour: number | null;
  to_limit_s: number | null;
  alarm_at: string | null;
  text: string;
}

export interface Gap {
  from: string;
  to: string;
  cause: string;
}

export interface Excursion {
  test_point: string;
  measure: string;
  state: State;
  edge: "low" | "high";
  from: string;
  to: string | null;
  worst: number;
  worst_at: string;
  worst_u: number;
  limit: number;
  text: string;
}

export interface Verdict {
  soak: number;
  unit: string;
  console: string;
  place: string;
  outcome: Outcome;
  sheet: string;
  sheet_sha256: string;
  begin: string;
  end: string;
  planned_s: number;
  evidence_ratio: number | null;
  reasons: string[];
  excursions: Excursion[];
}
