// The time that all charts of a soak show: one window for all of them.

/** A stretch of time in seconds since 1970. */
export interface Span {
  from: number;
  to: number;
}

type Listener = (span: Span) => void;

export class Window {
  private span: Span;
  private readonly listeners: Listener[] = [];

  /** Takes all that there is to look at, and the shortest stretch of it that can be,
   * both in the unit of the charts. */
  constructor(
    private whole: Span,
    private readonly shortest = 2,
  ) {
    this.span = { ...whole };
  }

  get from(): number {
    return this.span.from;
  }

  get to(): number {
    return this.span.to;
  }

  get length(): number {
    return this.span.to - this.span.from;
  }

  /** Whether the whole soak is looked at. */
  get isWhole(): boolean {
    return this.span.from <= this.whole.from && this.span.to >= this.whole.to;
  }

  watch(listener: Listener): void {
    this.listeners.push(listener);
  }

  /** Moves the end of what there is to look at; what shows all of it goes on to. */
  extend(to: number): void {
    const all = this.isWhole;
    this.whole.to = to;
    if (all) this.look(this.whole.from, to);
  }

  /** Looks at a stretch, cut to what there is. */
  look(from: number, to: number): void {
    const most = this.whole.to - this.whole.from;
    const length = Math.min(most, Math.max(Math.min(this.shortest, most), to - from));
    const start = Math.max(this.whole.from, Math.min(from, this.whole.to - length));
    if (start === this.span.from && start + length === this.span.to) return;
    this.span = { from: start, to: start + length };
    for (const listener of this.listeners) listener(this.span);
  }

  lookAtAll(): void {
    this.look(this.whole.from, this.whole.to);
  }

  /** Looks at the last so many seconds. */
  lookAtLast(seconds: number): void {
    this.look(this.whole.to - seconds, this.whole.to);
  }

  /** Makes the stretch longer or shorter about a moment that stays where it is. */
  zoom(factor: number, about = (this.span.from + this.span.to) / 2): void {
    this.look(about - (about - this.span.from) * factor, about + (this.span.to - about) * factor);
  }

  /** Moves by a share of its length. */
  pan(share: number): void {
    this.look(this.span.from + share * this.length, this.span.to + share * this.length);
  }
}
