// What is wrong comes first.

import type { Check, Soak, State } from "../api/shapes";

const rank: Record<State, number> = { silent: 0, outside: 1, borderline: 2, settling: 3, within: 4 };

/** Checks with the wrong ones first, those of one state in the sheet's order, so
 * that nothing moves but for a change of state. */
export function worstFirst(checks: readonly Check[]): Check[] {
  return [...checks].sort((a, b) => rank[a.state] - rank[b.state]);
}

/** Soaks with the worst first, else in the order in which they began. */
export function worstSoaksFirst(soaks: readonly Soak[]): Soak[] {
  return [...soaks].sort((a, b) => worstRank(a) - worstRank(b) || a.soak - b.soak);
}

function worstRank(soak: Soak): number {
  return Math.min(4, ...soak.checks.map((c) => rank[c.state]));
}
