// Final tests, and how a line of units has fared.

import type { State, Outcome } from "./words";

/** How a final test stands. */
export interface Final {
  final: number;
  unit: string;
  console: string;
  place: string;
  sheet: string;
  begin: string;
  end: string | null;
  given_up?: string;
  decision: string;
  outcome: Outcome;
  steps: FinalStep[];
  /** The steps that can be taken next; none when the test can end. */
  due: string[];
  reasons: FinalReason[];
}

export interface FinalStep {
  step: string;
  kind: "measure" | "soak" | "discharge" | "question" | "wait";
  about?: string;
  connect?: string;
  caution?: string;
  test_point?: string;
  question?: string;
  sense?: "look" | "listen" | "press";
  wait_s?: number;
  needs_person: boolean;
  act?: string;
  taken: number;
  outcome: Outcome;
  said?: string;
  figures: FinalFigure[];
  remarks: string[];
  reasons: FinalReason[];
}

export interface FinalFigure {
  test_point: string;
  measure: string;
  unit: string;
  figure: number | null;
  low: number | null;
  high: number | null;
  nominal: number | null;
  accept_low: number | null;
  accept_high: number | null;
  state: State;
  outcome: Outcome;
  text: string;
}

export interface FinalReason {
  kind: string;
  step?: string;
  text: string;
  causes: string[];
}

/** A line of what taking a step streams. */
export interface StepProgress {
  step: string;
  text?: string;
  left_s?: number;
  final?: Final;
  error?: string;
}

export interface Interval {
  low: number;
  high: number;
}

/** How a line of units has fared. */
export interface LineFigures {
  since: string | null;
  confidence_ratio: number;
  units: number;
  passed_first_time: number;
  failed_first_time: number;
  undecided_first_time: number;
  passed_later: number;
  yield_ratio: number | null;
  yield_interval: Interval | null;
  yield_interval_by: string;
  rolled_yield_ratio: number | null;
  fails: { name: string; units: number }[];
  diagnoses: { name: string; units: number }[];
  soaks: number;
  soaked_units: number;
  soak_s: number;
  median_soak_per_unit_s: number;
  spreads: Spread[];
  returned: { unit: string; console: string; passed: string; again: string; outcome?: Outcome }[];
}

/** How one check lies over the units. */
export interface Spread {
  console: string;
  test_point: string;
  measure: string;
  unit: string;
  sheet: string;
  units: number;
  mean: number | null;
  sd: number | null;
  lowest: number | null;
  highest: number | null;
  low: number | null;
  high: number | null;
  cpk: number | null;
  cpk_interval: Interval | null;
  mean_text: string;
  sd_text: string;
  suggested_yaml?: string;
}
