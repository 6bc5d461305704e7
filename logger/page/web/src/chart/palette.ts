// The page's colours for what is drawn on a canvas; taken anew when the scheme of
// light and dark changes.

const names = ["paper", "paper-deep", "ink", "ink-soft", "rule", "sea", "ochre", "brick", "sea-wash", "ochre-wash", "brick-wash"] as const;
type Name = (typeof names)[number];

let colours: Record<Name, string> | null = null;
const scheme = window.matchMedia("(prefers-color-scheme: dark)");
const listeners = new Set<() => void>();

scheme.addEventListener("change", () => {
  colours = null;
  for (const listener of listeners) listener();
});

/** A colour of the page. */
export function colour(name: Name): string {
  if (!colours) {
    const style = getComputedStyle(document.documentElement);
    colours = Object.fromEntries(names.map((n) => [n, style.getPropertyValue(`--${n}`).trim()])) as Record<Name, string>;
  }
  return colours[name];
}

/** Tells when colours change, until what it returns is called. */
export function whenColoursChange(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** The page's font at a size in CSS pixels, for a canvas. */
export function font(px: number): string {
  return `${px}px ${getComputedStyle(document.body).fontFamily}`;
}
