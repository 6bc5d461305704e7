// The words that every other shape is made of.

export type State = "settling" | "within" | "borderline" | "outside" | "silent";
export type Outcome = "pass" | "fail" | "undecided";

export interface Finding {
  code: string;
  state: State;
  text: string;
  advice: string;
}
