// Times as the bench's clock shows them, whatever zone the browser is in.

import { words } from "./texts";

let zone: string | undefined;
let offsetMinutes = 0;
const formats = new Map<string, Intl.DateTimeFormat>();

/** Takes the bench's zone: its IANA name, or else the offset of a time that the
 * bench wrote. */
export function setZone(name: string | undefined, at: string): void {
  if (name !== undefined && name !== zone && isZone(name)) {
    zone = name;
    formats.clear();
  }
  const offset = /([+-])(\d\d):(\d\d)$/.exec(at);
  offsetMinutes = offset ? (offset[1] === "-" ? -1 : 1) * (Number(offset[2]) * 60 + Number(offset[3])) : 0;
}

function isZone(name: string): boolean {
  try {
    new Intl.DateTimeFormat("en-GB", { timeZone: name });
    return true;
  } catch {
    return false;
  }
}

/** A date whose local fields are those of the bench's clock, for libraries that
 * know no zones. */
export function benchDate(seconds: number): Date {
  const [year, month, day, hour, minute, second] = fields(seconds * 1000);
  return new Date(year!, month! - 1, day!, hour!, minute!, second!, Math.round((seconds % 1) * 1000));
}

function fields(ms: number): number[] {
  const text = format({ year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit" }, ms);
  const [, day, month, year, hour, minute, second] = /(\d+)\/(\d+)\/(\d+), (\d+):(\d+):(\d+)/.exec(text) ?? [];
  return [year, month, day, hour, minute, second].map(Number);
}

function format(options: Intl.DateTimeFormatOptions, ms: number): string {
  const key = JSON.stringify(options);
  let made = formats.get(key);
  if (!made) {
    made = new Intl.DateTimeFormat("en-GB", { ...options, timeZone: zone ?? "UTC", hourCycle: "h23" });
    formats.set(key, made);
  }
  return made.format(zone === undefined ? ms + offsetMinutes * 60_000 : ms);
}

type Moment = string | number;

function ms(at: Moment): number {
  return typeof at === "number" ? at : Date.parse(at);
}

/** "14:02:11" */
export function timeOfDay(at: Moment): string {
  return format({ hour: "2-digit", minute: "2-digit", second: "2-digit" }, ms(at));
}

/** "14:02" */
export function hourAndMinute(at: Moment): string {
  return format({ hour: "2-digit", minute: "2-digit" }, ms(at));
}

/** "14:02:11.204" */
export function timeExact(at: Moment): string {
  return format({ hour: "2-digit", minute: "2-digit", second: "2-digit", fractionalSecondDigits: 3 }, ms(at));
}

/** "25 Nov 2026" */
export function day(at: Moment): string {
  return format({ day: "numeric", month: "short", year: "numeric" }, ms(at));
}

/** "25 Nov 2026, 14:02" */
export function dayAndTime(at: Moment): string {
  return `${day(at)}, ${hourAndMinute(at)}`;
}

/** The time of day, with the day before it where that is not the other's. */
export function timeBeside(at: Moment, other: Moment): string {
  return day(at) === day(other) ? timeOfDay(at) : `${format({ day: "numeric", month: "short" }, ms(at))} ${timeOfDay(at)}`;
}

/** "3 h 12 min", "4 min 05 s", "12 s" */
export function duration(seconds: number): string {
  const s = Math.max(0, Math.round(seconds));
  const minutes = Math.floor(s / 60);
  if (s < 60) return words.seconds(s);
  if (minutes < 60) return words.minutesSeconds(minutes, s % 60);
  const hours = Math.floor(minutes / 60);
  return hours < 48 ? words.hoursMinutes(hours, minutes % 60) : words.daysHours(Math.floor(hours / 24), hours % 24);
}

/** Seconds between two moments. */
export function between(from: Moment, to: Moment): number {
  return (ms(to) - ms(from)) / 1000;
}
