// What the daemon answers: the JSON of /api/v1, as logger/page writes it. SI units,
// times as RFC 3339 text, null for what is not known.

export type State = "settling" | "within" | "borderline" | "outside" | "silent";
export type Outcome = "pass" | "fail" | "undecided";

/** How the bench stands: GET /api/v1/bench, and the event "bench". */
export interface Bench {
  bench: string;
  at: string;
  /** The bench's time zone by its IANA name; absent where the host does not say. */
  zone?: string;
  instruments: Instrument[];
  places: string[];
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

export interface Finding {
  code: string;
  state: State;
  text: string;
  advice: string;
}

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
