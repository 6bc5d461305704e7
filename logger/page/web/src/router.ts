// Which view is shown: #/soak/3 is the view "soak" with the argument "3".

export interface Place {
  view: string;
  args: string[];
}

/** The place that the address names. */
export function here(): Place {
  const [view, ...args] = location.hash.replace(/^#\/?/, "").split("/").map(decode);
  return { view: view || "bench", args };
}

function decode(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

/** The address of a place. */
export function to(view: string, ...args: (string | number)[]): string {
  return `#/${[view, ...args].map((a) => encodeURIComponent(a)).join("/")}`;
}

/** Goes to a place. */
export function go(view: string, ...args: (string | number)[]): void {
  location.hash = to(view, ...args);
}
