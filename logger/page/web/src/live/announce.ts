// Having changes read out: only those that somebody has to act on, and one at a time.

import type { Bench, State } from "../api/shapes";
import { bench as texts, states } from "../texts";
import { checkName } from "../views/point";

const last = new Map<string, State>();

/** The sentence for the worst change since it was last asked; empty if there is
 * none worth saying. */
export function newly(bench: Bench): string {
  let sentence = "";
  for (const soak of bench.soaks) {
    for (const check of soak.checks) {
      const key = `${soak.soak} ${checkName(check)}`;
      const before = last.get(key);
      last.set(key, check.state);
      const matters = check.state === "outside" || check.state === "silent";
      if (before !== undefined && before !== check.state && matters) sentence = texts.changed(soak.unit, checkName(check), states[check.state]);
    }
  }
  return sentence;
}
