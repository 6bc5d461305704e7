// What is seen, as a picture and as figures.

import { dayAndTime } from "../clock";
import { h } from "../dom";
import { colour, font } from "./palette";

/** One chart of an exported picture. */
export interface Picture {
  title: string;
  canvas: HTMLCanvasElement;
}

/** Draws charts under each other with their names, and has the browser keep it. */
export function savePNG(name: string, heading: string, from: number, to: number, pictures: readonly Picture[]): void {
  const px = devicePixelRatio;
  const label = 22 * px;
  const width = Math.max(...pictures.map((p) => p.canvas.width)) + 24 * px;
  const height = 60 * px + pictures.reduce((sum, p) => sum + p.canvas.height + label, 0);
  const canvas = h("canvas", { width, height });
  const ctx = canvas.getContext("2d")!;
  ctx.fillStyle = colour("paper");
  ctx.fillRect(0, 0, width, height);
  ctx.fillStyle = colour("ink");
  ctx.font = font(16 * px);
  ctx.fillText(heading, 12 * px, 26 * px);
  ctx.font = font(12 * px);
  ctx.fillText(`${dayAndTime(from * 1000)} – ${dayAndTime(to * 1000)}`, 12 * px, 46 * px);
  let y = 60 * px;
  for (const { title, canvas: chart } of pictures) {
    ctx.fillText(title, 12 * px, y + 15 * px);
    ctx.drawImage(chart, 12 * px, y + label);
    y += chart.height + label;
  }
  canvas.toBlob((blob) => blob && save(`${name}.png`, blob));
}

/** A column of an exported table. */
export interface Row {
  time: string;
  test_point: string;
  measure: string;
  unit: string;
  low: number | null;
  mean: number | null;
  high: number | null;
}

/** Writes the figures that are drawn as CSV (RFC 4180), and has the browser keep it. */
export function saveCSV(name: string, rows: Iterable<Row>): void {
  const keys = ["time", "test_point", "measure", "unit", "low", "mean", "high"] as const;
  const lines = [keys.join(",")];
  for (const row of rows) lines.push(keys.map((key) => quoted(row[key])).join(","));
  save(`${name}.csv`, new Blob([lines.join("\r\n"), "\r\n"], { type: "text/csv" }));
}

/** A field as RFC 4180 has it. Text that a spreadsheet would take for a formula gets
 * an apostrophe before it. */
function quoted(value: string | number | null): string {
  if (value === null) return "";
  if (typeof value === "number") return String(value);
  const text = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

function save(name: string, blob: Blob): void {
  const url = URL.createObjectURL(blob);
  const link = h("a", { href: url, download: name.replace(/[^\w.-]+/g, "_"), hidden: true });
  document.body.append(link);
  link.click();
  link.remove();
  window.setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
