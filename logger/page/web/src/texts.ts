// Every text of the page, in English. Another language is another file like this.

import type { Outcome, State } from "./api/shapes";

export const states: Record<State, string> = {
  settling: "settling",
  within: "within",
  borderline: "borderline",
  outside: "outside",
  silent: "silent",
};

export const outcomes: Record<Outcome, string> = { pass: "pass", fail: "fail", undecided: "undecided" };

export const words = {
  notKnown: "not known",
  seconds: (s: number) => `${s} s`,
  minutesSeconds: (m: number, s: number) => `${m} min ${String(s).padStart(2, "0")} s`,
  hoursMinutes: (h: number, m: number) => `${h} h ${String(m).padStart(2, "0")} min`,
  daysHours: (d: number, h: number) => `${d} d ${String(h).padStart(2, "0")} h`,
  percent: (ratio: number | null) => (ratio === null ? "not known" : ratio >= 1 ? "100 %" : `${(Math.floor(ratio * 1000) / 10).toFixed(1)} %`),
  bracket: (state: State, place: number | null) =>
    place === null ? states[state]
    : place < 0 ? `${states[state]}, below the low limit`
    : place > 1 ? `${states[state]}, above the high limit`
    : `${states[state]}, ${Math.round(place * 100)} % of the way from low to high`,
  last: (time: string) => `last ${time}`,
  upTo: (from: string, to: string) => `${from} to ${to}`,
};

export const shell = {
  skip: "Go to the view",
  nav: "Views",
  views: {
    bench: "Bench",
    units: "Units",
    video: "Video line",
    charge: "Stored charge",
    final: "Final test",
    figures: "Line figures",
    instruments: "Instruments",
  },
  connected: "live",
  connecting: "Asking the bench …",
  lost: (since: string) => `The bench has not answered since ${since}. Figures below are from then; trying again.`,
  back: (time: string) => `The bench answers again since ${time}.`,
  bookTrouble: (why: string) => `The book cannot be written: ${why}`,
  lostReadings: (n: number) => `${n} readings did not fit and are missing from the evidence.`,
  unreachable: "The bench does not answer. Nothing was changed; try again when it is back.",
  clock: "the bench's clock",
  loading: "Asking …",
  noSuchView: "There is no such view.",
  cancel: "Leave it",
  close: "Close",
};

export const bench = {
  title: "Bench",
  nothing: "No unit is on the bench.",
  begin: "Put a unit on",
  beginTitle: "Begin a soak",
  unit: "Unit",
  place: "Place",
  anyPlace: "first that is free and wired",
  length: "Length in hours",
  lengthHint: "empty: as the test sheet says",
  beginNow: "Begin",
  noUnits: "No unit in the book is free to be soaked. Book one in under Units.",
  caution: "A soak runs attended, or where there is fire detection and a cut-off. A program that stops logging does not remove power.",
  at: (place: string) => `at ${place}`,
  timeLeft: (gone: string, whole: string, left: string) => `${gone} of ${whole}, ${left} left`,
  over: (whole: string) => `${whole} over, the verdict comes`,
  evidence: (text: string) => `evidence ${text}`,
  soFar: { pass: "nothing against a pass so far", fail: "fails as it stands", undecided: "undecided as it stands" } as Record<Outcome, string>,
  ended: (when: string) => `ended ${when}`,
  open: (unit: string) => `Test points of ${unit}`,
  toSoak: "Whole soak",
  toUnit: "Unit",
  tape: (unit: string, percent: string, excursions: number, gaps: number) =>
    `Tape of ${unit}: ${percent} written, ${excursions === 1 ? "1 excursion" : `${excursions} excursions`}, ${gaps === 1 ? "1 gap" : `${gaps} gaps`}`,
  pointTape: (point: string, excursions: number, gaps: number) =>
    `Tape of ${point}: ${excursions === 1 ? "1 excursion" : `${excursions} excursions`}, ${gaps === 1 ? "1 gap" : `${gaps} gaps`}`,
  worst: "worst",
  trendNote: "the thin line is the last ten minutes; drag along a tape to look at that time",
  changed: (unit: string, point: string, state: string) => `${unit}: ${point} is ${state}`,
};

export const soak = {
  title: (unit: string) => `Soak of ${unit}`,
  none: "The book has no such soak.",
  under: (sheet: string, begin: string) => `by sheet ${sheet}, since ${begin}`,
  was: (sheet: string, begin: string, end: string) => `by sheet ${sheet}, ${begin} to ${end}`,
  stop: "Stop the soak",
  stopTitle: (unit: string) => `Stop the soak of ${unit}`,
  stopBody: "The soak ends here and its verdict is given on what there is: a soak that was cut short is never a pass. It cannot be taken up again.",
  reason: "Why",
  reasonHint: "goes into the book with the verdict",
  stopNow: "Stop it",
  note: "Add a note",
  charts: "Charts of every test point over one time axis. Left and right move, plus and minus zoom, Home shows the whole soak, End its latest part, N and P go to the next and the previous excursion.",
  whole: "Whole soak",
  lastHour: "Last hour",
  lastMinutes: "Last 10 min",
  earlier: "Earlier",
  later: "Later",
  longer: "Longer",
  shorter: "Shorter",
  close: "Readings fill the height",
  png: "Picture",
  csv: "Figures",
  hint: "Wheel or two fingers zoom, drag marks a stretch, Shift and drag or one finger moves",
  happened: "What happened",
  nothing: "Nothing has left its limits and no reading is missing.",
  noReading: (cause: string) => (cause ? `no reading: ${cause}` : "no reading"),
  left: (text: string, limit: string, edge: string) => `${text}, ${edge} limit ${limit}`,
  lasts: "lasts",
  look: (what: string, when: string) => `Look at ${what} at ${when}`,
  columns: { when: "When", long: "For", where: "Test point", what: "What" },
  readings: (n: number) => (n === 1 ? "1 reading" : `${n} readings`),
  none_here: "no reading here",
  loading: "Reading the book …",
  edge: { low: "low", high: "high" },
  failed: (why: string) => `The charts could not be read: ${why}`,
};
