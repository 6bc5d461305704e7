// A figure as every screen prints it, with the number large, and its unit and its
// uncertainty smaller beside it.

import { h, say, set } from "../dom";

export class FigureText {
  readonly element: HTMLElement;
  private readonly number = h("b");
  private readonly unit = h("span", { class: "unit" });
  private readonly u = h("span", { class: "u" });

  constructor() {
    this.element = h("span", { class: "figure" }, this.number, h("span", { class: "beside" }, this.unit, this.u));
  }

  /** Takes the daemon's text, such as "5.0121 V ± 0.0018" or "not known". */
  update(text: string, reversed = false): void {
    const parts = /^(\S+) ([^\s\d]\S*)(?: ± (\S+))?$/.exec(text);
    const known = parts !== null && /\d/.test(parts[1]!);
    say(this.number, known ? parts[1]! : text);
    say(this.unit, known ? parts[2]! : "");
    say(this.u, known && parts[3] ? `± ${parts[3]}` : "");
    set(this.element, "data-unknown", !known);
    set(this.element, "data-long", known && parts[1]!.length > 7);
    set(this.element, "data-reversed", reversed);
  }
}
