// Numbers beside charts, in the units and prefixes that the daemon uses.

import { words } from "./texts";

/** How the figures of one check are written: all in one prefixed unit. */
export interface Scale {
  factor: number;
  symbol: string;
}

const prefixes: [number, string][] = [[1e9, "G"], [1e6, "M"], [1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "µ"], [1e-9, "n"], [1e-12, "p"]];

/** The unit for figures of a size: 0.231 V and 9.8 mV, a ratio in percent. */
export function scaleFor(size: number, unit: string): Scale {
  if (unit === "") return { factor: 0.01, symbol: "%" };
  if (unit === "°C" || size === 0 || !Number.isFinite(size) || (size >= 0.1 && size < 1e3 && unit !== "F")) return { factor: 1, symbol: unit };
  const found = prefixes.find(([factor]) => size >= factor * 0.99995 && !(unit === "F" && factor > 1e-6) && !(unit === "s" && factor > 1));
  const [factor, name] = found ?? prefixes.at(-1)!;
  return { factor, symbol: name + unit };
}

/** A figure with as many decimals as a step between two of them needs. */
export function stepped(scale: Scale, step: number): (value: number) => string {
  const decimals = Math.max(0, Math.min(9, -Math.floor(Math.log10(step / scale.factor) + 1e-9)));
  return (value) => (value / scale.factor).toFixed(decimals);
}

/** A figure to five digits, with its unit. */
export function figure(value: number | null, scale: Scale): string {
  if (value === null) return words.notKnown;
  return `${digits(value, scale)} ${scale.symbol}`;
}

/** Two figures with their unit once; one, where they are the same. */
export function range(low: number | null, high: number | null, scale: Scale): string {
  if (low === null || high === null) return words.notKnown;
  const [a, b] = [digits(low, scale), digits(high, scale)];
  return a === b ? `${a} ${scale.symbol}` : `${words.upTo(a, b)} ${scale.symbol}`;
}

function digits(value: number, scale: Scale): string {
  return String(Number((value / scale.factor).toPrecision(5)));
}
