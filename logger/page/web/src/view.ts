// What a view is to the shell.

import type { Bench } from "./api/shapes";

export interface View {
  element: HTMLElement;
  /** For the window's title. */
  title: string;
  /** Told at every change of how the bench stands, or of the stream to it. */
  update?(bench: Bench, fresh: boolean): void;
  /** Ends what the view has started. */
  close?(): void;
}

export type MakeView = (args: string[]) => View;
