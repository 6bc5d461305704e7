// The final test: one step at a time in large type. Every stage has one button that
// holds the focus, so that Enter, Space or a foot switch is enough to go through.

import { get, lines, part, post, Refused } from "../api/client";
import type { Final, FinalStep, RoundPlan, StepProgress } from "../api/shapes";
import { dayAndTime, duration } from "../clock";
import { ask, sentence } from "../dialog";
import { h, say } from "../dom";
import { to } from "../router";
import { final as texts, outcomes, shell } from "../texts";
import type { View } from "../view";
import { endedTest, found, stepBar } from "./finalparts";
import { choose } from "./units";

/** After a stage has changed, a press counts only when this has passed: a switch that
 * bounces, or is held, is not two answers. */
const settleMs = 350;

export function finalView(args: string[]): View {
  const unit = args[0];
  if (!unit) return choose("final")([]);
  const page = new FinalPage(unit);
  void page.begin();
  return { element: page.element, title: texts.of(unit), close: () => page.close() };
}

class FinalPage {
  readonly element = h("section", { class: "final-view" }, h("p", { class: "quiet" }, shell.loading));
  private readonly path: string;
  private readonly gone = new AbortController();
  private shownAt = 0;
  private keys: Record<string, () => void> = {};

  constructor(private readonly unit: string) {
    this.path = `/api/v1/units/${part(unit)}/final`;
    document.addEventListener("keydown", (event) => this.key(event), { signal: this.gone.signal });
  }

  close(): void {
    this.gone.abort();
  }

  /** Shows where the test stands: cautions before it, a step of it, or its verdict. */
  async begin(): Promise<void> {
    try {
      const plan = await get<RoundPlan>(`/api/v1/units/${part(this.unit)}/round-plan`);
      const test = plan.final_taken ? await get<Final>(this.path) : null;
      if (test?.end) return this.over(test);
      if (!plan.final_stated) return this.stage(h("h1", {}, texts.of(this.unit)), h("p", { class: "empty" }, texts.noTest));
      this.cautions(plan, test);
    } catch (error) {
      this.trouble(error);
    }
  }

  private cautions(plan: RoundPlan, test: Final | null): void {
    const list = [...plan.cautions, ...new Set(plan.steps.map((s) => s.caution).filter((c) => c !== undefined))];
    const begin = this.primary(test ? texts.resume : texts.begin, () => this.start());
    this.stage(h("h1", {}, texts.of(this.unit)), h("h2", {}, texts.before), h("ol", { class: "cautions" }, ...list.map((c) => h("li", {}, c))), h("p", { class: "buttons start" }, begin));
    begin.focus();
  }

  private async start(): Promise<void> {
    try {
      this.next(await post<Final>(this.path));
    } catch (error) {
      this.trouble(error);
    }
  }

  /** Shows the step that is due, or that all are taken. */
  private next(test: Final): void {
    const step = test.steps.find((s) => s.step === test.due[0]);
    if (!step) return this.allTaken(test);
    const texting = h("div", { class: "step-text" }, h("p", { class: "quiet" }, texts.step(test.steps.indexOf(step) + 1, test.steps.length)), h("h2", {}, step.about ?? step.step),
      step.caution ? h("p", { class: "caution" }, step.caution) : "", step.connect ? h("p", { class: "connect" }, texts.connect(step.connect)) : "",
      step.question ? h("p", { class: "question" }, step.sense ? h("span", { class: "sense" }, texts.sense[step.sense] ?? "") : "", step.question) : "");
    const answer = (word: "yes" | "no") => (): void => void this.take(test, step, word);
    const buttons = step.kind === "question" ? [this.primary(texts.yes, answer("yes")), this.primary(texts.no, answer("no"))] : [this.primary(texts.act[step.kind] ?? texts.goOn, () => this.take(test, step))];
    this.stage(this.head(test), stepBar(test, step.step), texting,
      h("p", { class: "buttons start" }, ...buttons, this.plain(texts.skip, () => this.skip(step))), h("p", { class: "quiet keys" }, step.kind === "question" ? texts.keysQuestion : texts.keysMeasure));
    this.keys = { s: () => this.skip(step), ...(step.kind === "question" ? { y: answer("yes"), n: answer("no") } : {}) };
    buttons[0]!.focus();
  }

  /** Takes a step, and shows how it goes. */
  private async take(test: Final, step: FinalStep, answer?: "yes" | "no"): Promise<void> {
    const stop = new AbortController();
    this.gone.signal.addEventListener("abort", () => stop.abort(), { once: true });
    const progress = h("p", { class: "progress", role: "status" }, texts.working);
    const left = h("p", { class: "left" });
    const halt = this.plain(texts.stop, () => stop.abort());
    this.stage(this.head(test), stepBar(test, step.step), h("div", { class: "step-text" }, h("h2", {}, step.about ?? step.step), progress, left), h("p", { class: "buttons start" }, halt));
    let after: Final | undefined;
    try {
      await lines<StepProgress>(`${this.path}/steps/${part(step.step)}`, answer ? { answer } : {}, stop.signal, (line) => {
        if (line.error) throw new Error(line.error);
        after = line.final ?? after;
        if (line.text) say(progress, line.text);
        say(left, line.left_s ? texts.left(duration(line.left_s)) : "");
      });
      if (!after) throw new Error(texts.lost);
      this.result(after, step.step);
    } catch (error) {
      if (this.gone.signal.aborted) return;
      if (stop.signal.aborted) return this.next(test);
      this.trouble(error instanceof Refused && error.status === 0 ? new Error(texts.lost) : error);
    }
  }

  private result(test: Final, name: string): void {
    const step = test.steps.find((s) => s.step === name)!;
    const go = this.primary(texts.goOn, () => this.next(test));
    const again = this.plain(texts.again, () => this.take(test, step));
    const repeat = step.kind === "question" ? () => this.next({ ...test, due: [name] }) : () => void this.take(test, step);
    this.stage(this.head(test), stepBar(test, name), h("div", { class: "step-text", role: "status" }, found(step)), h("p", { class: "buttons start" }, go, step.kind === "question" ? this.plain(texts.again, repeat) : again), h("p", { class: "quiet keys" }, texts.keysGoOn));
    this.keys["r"] = repeat;
    go.focus();
  }

  private allTaken(test: Final): void {
    const end = this.primary(texts.end, async () => {
      try {
        this.over(await post<Final>(`${this.path}/end`));
      } catch (error) {
        this.trouble(error, test);
      }
    });
    this.stage(this.head(test), stepBar(test, ""), h("div", { class: "step-text" }, h("h2", {}, texts.allTaken), h("p", {}, texts.asItStands(outcomes[test.outcome]))), h("p", { class: "buttons start" }, end));
    end.focus();
  }

  private over(test: Final): void {
    const toUnit = h("a", { class: "plain", href: to("unit", this.unit) }, texts.toUnit);
    this.stage(h("h1", {}, texts.of(this.unit)), h("p", { class: "quiet" }, texts.ended(dayAndTime(test.end!))), endedTest(test),
      h("p", { class: "buttons start" }, h("a", { class: "plain", href: `/api/v1/units/${part(this.unit)}/report`, target: "_blank", rel: "noopener" }, texts.certificate), toUnit,
        this.plain(texts.anew, () => this.anew(test))));
    toUnit.focus();
  }

  private anew(test: Final): void {
    if (test.end) return void this.start();
    ask({ title: texts.anewTitle(this.unit), body: [h("p", {}, texts.anewBody)], act: texts.anew, loses: true, fields: [{ name: "reason", label: texts.reason, required: true }] },
      async ({ reason }) => this.then(await post<Final>(this.path, { anew: reason })));
  }

  private skip(step: FinalStep): void {
    ask({ title: texts.skipTitle(step.step), body: [h("p", {}, texts.skipBody)], act: texts.skip, loses: true, fields: [{ name: "reason", label: texts.reason, required: true }] },
      async ({ reason }) => this.then(await post<Final>(`${this.path}/steps/${part(step.step)}/skip`, { reason })));
  }

  /** Shows how the test then stands, once the dialog has gone. */
  private then(test: Final): () => void {
    return () => (test.end ? this.over(test) : this.next(test));
  }

  private giveUp(): void {
    ask({ title: texts.giveUpTitle(this.unit), body: [h("p", {}, texts.giveUpBody)], act: texts.giveUp, loses: true, fields: [{ name: "reason", label: texts.reason, required: true }] },
      async ({ reason }) => this.then(await post<Final>(`${this.path}/give-up`, { reason })));
  }

  private head(test: Final): HTMLElement {
    return h("header", { class: "view-head" }, h("div", {}, h("h1", {}, texts.of(test.unit)), h("p", { class: "quiet" }, texts.decision(test.decision))), h("p", { class: "buttons" }, this.plain(texts.giveUp, () => this.giveUp())));
  }

  private stage(...children: (Node | string)[]): void {
    this.keys = {};
    this.shownAt = performance.now();
    this.element.replaceChildren(...children);
  }

  private primary(text: string, act: () => unknown): HTMLButtonElement {
    return h("button", { type: "button", class: "doing big", onclick: () => {
      if (performance.now() - this.shownAt >= settleMs) void act();
    } }, text);
  }

  private plain(text: string, act: () => unknown): HTMLButtonElement {
    return h("button", { type: "button", class: "plain", onclick: () => void act() }, text);
  }

  private key(event: KeyboardEvent): void {
    if (event.repeat && (event.key === "Enter" || event.key === " ")) return event.preventDefault();
    const typing = event.target instanceof HTMLInputElement || event.target instanceof HTMLTextAreaElement || event.target instanceof HTMLSelectElement;
    if (typing || event.repeat || event.ctrlKey || event.altKey || event.metaKey || document.querySelector("dialog[open]")) return;
    const act = this.keys[event.key.toLowerCase()];
    if (!act || performance.now() - this.shownAt < settleMs) return;
    event.preventDefault();
    act();
  }

  private trouble(error: unknown, test?: Final): void {
    const back = this.primary(texts.goOn, () => (test ? this.next(test) : this.begin()));
    this.stage(h("h1", {}, texts.of(this.unit)), h("p", { class: "trouble", role: "alert" }, sentence(error)), h("p", { class: "buttons start" }, back));
    back.focus();
  }
}
