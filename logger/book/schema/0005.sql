-- Version 5: final tests.

-- sheet is the copy by which it is taken, round the round that its records of the
-- scope are kept under. end_us is NULL while it is under way.
CREATE TABLE final_test (
  id       INTEGER PRIMARY KEY AUTOINCREMENT,
  bench    TEXT NOT NULL,
  place    TEXT NOT NULL,
  unit     TEXT NOT NULL REFERENCES unit,
  sheet    TEXT NOT NULL REFERENCES sheet,
  round    INTEGER REFERENCES round,
  begin_us INTEGER NOT NULL,
  end_us   INTEGER,
  given_up TEXT NOT NULL        -- why; empty unless it was
) STRICT;
CREATE INDEX final_test_by_unit ON final_test (unit, begin_us);
CREATE UNIQUE INDEX final_test_under_way ON final_test (unit) WHERE end_us IS NULL;

-- Instruments of the unit's place, each as often as it changed. Calibration dates
-- are days as people write them, 2026-03-31; empty where nobody gave them.
CREATE TABLE final_instrument (
  final           INTEGER NOT NULL REFERENCES final_test,
  name            TEXT NOT NULL,
  port            TEXT NOT NULL,
  identity        TEXT NOT NULL,
  calibrated      TEXT NOT NULL,
  calibration_due TEXT NOT NULL,
  since_us        INTEGER NOT NULL,
  PRIMARY KEY (final, name, since_us)
) STRICT, WITHOUT ROWID;

-- Results of steps, n counting from 1 in the order in which they were taken.
CREATE TABLE final_step (
  final  INTEGER NOT NULL REFERENCES final_test,
  n      INTEGER NOT NULL,
  step   TEXT NOT NULL,
  end_us INTEGER NOT NULL,
  whole  BLOB NOT NULL,         -- JSON
  PRIMARY KEY (final, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE final_verdict (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  final      INTEGER NOT NULL REFERENCES final_test,
  at_us      INTEGER NOT NULL,
  outcome    TEXT NOT NULL,
  sheet_hash TEXT NOT NULL,
  whole      BLOB NOT NULL      -- JSON
) STRICT;
CREATE INDEX final_verdict_by_final ON final_verdict (final, id);
