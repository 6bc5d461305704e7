// What the book keeps of units: notes, soaks, rounds, trials, scope records, and
// figures over months.

import type { State, Outcome, Finding } from "./words";

export interface Unit {
  unit: string;
  console: string;
  added?: string;
  notes: Note[];
}

export interface Note {
  at?: string;
  text: string;
}

export interface SoakRecord {
  soak: number;
  unit: string;
  console: string;
  place: string;
  sheet: string;
  begin: string;
  end: string | null;
  planned_s: number;
  state: string;
  reason?: string;
  outcome?: Outcome;
}

export interface RoundPlan {
  unit: string;
  console: string;
  place: string;
  sheet: string;
  steps: RoundStep[];
  /** What is to be read before hands go in; empty where nothing stores a charge. */
  cautions: string[];
  /** Whether the sheet states a final test, and whether the unit has taken one. */
  final_stated: boolean;
  final_taken: boolean;
}

export interface RoundStep {
  test_point: string;
  about?: string;
  connect?: string;
  caution?: string;
  instrument: string;
  channel?: string;
  needs_person: boolean;
  /** Whether its stored charge can be watched down. */
  discharge: boolean;
}

export interface Round {
  round: number;
  unit: string;
  console: string;
  label: string;
  sheet: string;
  begin: string;
  end: string | null;
  trial?: number;
  candidate?: number | null;
  figures: Figure[];
}

export interface Figure {
  test_point: string;
  measure: string;
  unit: string;
  at: string | null;
  value: number | null;
  u: number | null;
  figure: number | null;
  asked: boolean;
  low: number | null;
  high: number | null;
  nominal: number | null;
  state?: State;
  text: string;
}

export interface Point {
  test_point: string;
  figures: Figure[];
  findings: Finding[];
  remarks: string[];
  trouble?: string;
}

/** A line of a watched discharge. */
export interface Discharge {
  test_point: string;
  phase: string;
  value_v: number | null;
  below_v: number;
  seconds_left: number | null;
  seconds_left_u: number | null;
  tau_s: number | null;
  below_for_s: number;
  watched: boolean;
  text: string;
  reading_age_s: number;
  cautions?: string[];
  error?: string;
}

export interface Comparison {
  unit: string;
  before: string;
  after: string;
  lines: ComparisonLine[];
}

export interface ComparisonLine {
  test_point: string;
  measure: string;
  unit: string;
  before: Figure;
  after: Figure;
  change: number | null;
  told: boolean;
  text: string;
  meaning?: string;
}

/** A scope record as it is drawn. Times are seconds from the first leading edge of
 * line sync, or from the record's begin where there is none. */
export interface ScopeRecord {
  soak?: number;
  round?: string;
  candidate?: number | null;
  test_point: string;
  instrument: string;
  at: string | null;
  samples: number;
  sample_interval_s: number;
  begin_s: number;
  interval_s: number;
  low_v: (number | null)[];
  high_v: (number | null)[];
  line: { lines: number; begin_s: number; interval_s: number; v: (number | null)[] } | null;
  spectrum: { begin_hz: number; per_decade: number; bin_hz: number; low_dbv: (number | null)[]; high_dbv: (number | null)[] } | null;
  figures: { measure: string; unit: string; value: number | null; u: number | null; text: string }[];
  findings: Finding[];
}

export interface Trial {
  trial: number;
  part: string;
  candidate_unit: string;
  chosen: number | null;
  candidates: { value: number | null; text: string; label: string }[];
  criteria: { text: string; figures: { text: string }[] }[];
  order: number[][];
}

export interface History {
  unit: string;
  console: string;
  courses: Course[];
  wear: Wear[];
}

/** One figure over months. */
export interface Course {
  test_point: string;
  measure: string;
  unit: string;
  low: number | null;
  high: number | null;
  figures: { at: string; kind: string; round?: string; soak?: number; value: number | null; u: number | null; low: number | null; high: number | null; text: string }[];
  trend: Trend;
}

export interface Trend {
  n: number;
  per_month: number | null;
  outlook: string;
  reached_at: string | null;
  earliest: string | null;
  latest: string | null;
  text: string;
}

export interface Wear {
  test_point: string;
  reference_celsius: number;
  capacitance: Worn | null;
  esr: Worn | null;
  leakage: Worn | null;
  findings: Finding[];
}

export interface Worn {
  measure: string;
  unit: string;
  limit: number | null;
  first: number | null;
  latest: number | null;
  points: { at: string; value: number | null; celsius: number | null }[];
  trend: Trend;
}
