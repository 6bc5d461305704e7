-- Version 9: excursions and verdicts of other books.

-- Excursions and verdicts that came in as lines of line protocol and are none of this
-- book's own: a line has no soak to hang them on, but an export must give them again.
-- text is the line, the other columns are what it says; at_ns is nanoseconds. lasting
-- is 1 for an excursion without an end, which one with an end takes the place of.
CREATE TABLE other_line (
  at_ns      INTEGER NOT NULL,
  text       TEXT NOT NULL,
  kind       TEXT NOT NULL CHECK (kind IN ('excursion', 'verdict')),
  bench      TEXT NOT NULL,
  console    TEXT NOT NULL,
  unit       TEXT NOT NULL,
  test_point TEXT NOT NULL,
  measure    TEXT NOT NULL,
  state      TEXT NOT NULL,
  lasting    INTEGER NOT NULL,
  PRIMARY KEY (at_ns, text)
) STRICT, WITHOUT ROWID;
