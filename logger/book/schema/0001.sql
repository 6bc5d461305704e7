-- Version 1 of the book. Times are microseconds since 1970-01-01 UTC (_us),
-- spans likewise. Tables are STRICT: a number in a text column is a mistake.

-- about is read by every version of the program, older ones too: it keeps this form.
CREATE TABLE about (
  key   TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE daemon_run (
  id       INTEGER PRIMARY KEY,
  bench    TEXT NOT NULL,
  program  TEXT NOT NULL,
  pid      INTEGER NOT NULL,
  begin_us INTEGER NOT NULL,
  end_us   INTEGER            -- NULL: running, or ended without saying so
) STRICT;

CREATE TABLE unit (
  asset    TEXT PRIMARY KEY,
  console  TEXT NOT NULL,
  added_us INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE unit_note (
  id    INTEGER PRIMARY KEY,
  unit  TEXT NOT NULL REFERENCES unit,
  at_us INTEGER NOT NULL,
  text  TEXT NOT NULL
) STRICT;
CREATE INDEX unit_note_by_unit ON unit_note (unit, at_us);

CREATE TABLE series (
  id         INTEGER PRIMARY KEY,
  bench      TEXT NOT NULL,
  console    TEXT NOT NULL,
  unit       TEXT NOT NULL,
  test_point TEXT NOT NULL,
  instrument TEXT NOT NULL,
  measure    TEXT NOT NULL,
  UNIQUE (unit, test_point, measure, instrument, bench, console)
) STRICT;

-- A number is coefficient * 10^exponent, or digits where that does not hold it,
-- and bits (of the float64) where the digits are not known or do not give it.
-- n tells readings of the same series and microsecond apart, in arrival order.
CREATE TABLE reading (
  series      INTEGER NOT NULL,
  at_us       INTEGER NOT NULL,
  n           INTEGER NOT NULL,
  coefficient INTEGER,
  exponent    INTEGER,
  digits      TEXT,
  bits        INTEGER,
  u           REAL NOT NULL,
  PRIMARY KEY (series, at_us, n)
) STRICT, WITHOUT ROWID;

-- The one row tells which batch went in last, so that a commit of which the
-- outcome was unclear is not written twice.
CREATE TABLE last_batch (
  id    INTEGER PRIMARY KEY CHECK (id = 1),
  batch BLOB NOT NULL
) STRICT;

CREATE TABLE loss (
  id      INTEGER PRIMARY KEY,
  series  INTEGER NOT NULL REFERENCES series,
  from_us INTEGER NOT NULL,
  to_us   INTEGER NOT NULL,
  cause   TEXT NOT NULL,
  count   INTEGER NOT NULL
) STRICT;
CREATE INDEX loss_by_series ON loss (series, from_us);

CREATE TABLE sheet (
  hash TEXT PRIMARY KEY,
  name TEXT NOT NULL,
  text BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE soak (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  bench      TEXT NOT NULL,
  place      TEXT NOT NULL,
  unit       TEXT NOT NULL REFERENCES unit,
  sheet      TEXT NOT NULL REFERENCES sheet,
  planned_us INTEGER NOT NULL,
  begin_us   INTEGER NOT NULL,
  end_us     INTEGER,
  state      TEXT NOT NULL CHECK (state IN ('running', 'ended', 'stopped')),
  reason     TEXT NOT NULL
) STRICT;
CREATE INDEX soak_by_unit ON soak (unit, begin_us);
CREATE UNIQUE INDEX soak_running_unit ON soak (unit) WHERE state = 'running';
CREATE UNIQUE INDEX soak_running_place ON soak (bench, place) WHERE state = 'running';

CREATE TABLE soak_instrument (
  soak     INTEGER NOT NULL REFERENCES soak,
  name     TEXT NOT NULL,
  port     TEXT NOT NULL,
  identity TEXT NOT NULL,
  since_us INTEGER NOT NULL,
  PRIMARY KEY (soak, name, since_us)
) STRICT, WITHOUT ROWID;

CREATE TABLE excursion (
  soak        INTEGER NOT NULL REFERENCES soak,
  test_point  TEXT NOT NULL,
  measure     TEXT NOT NULL,
  from_us     INTEGER NOT NULL,
  to_us       INTEGER,        -- NULL while it lasts
  state       TEXT NOT NULL,
  edge        TEXT NOT NULL,
  worst       REAL,
  worst_at_us INTEGER NOT NULL,
  worst_u     REAL,
  edge_value  REAL,
  PRIMARY KEY (soak, test_point, measure, from_us, state)
) STRICT, WITHOUT ROWID;

CREATE TABLE gap (
  soak       INTEGER NOT NULL REFERENCES soak,
  test_point TEXT NOT NULL,
  measure    TEXT NOT NULL,
  from_us    INTEGER NOT NULL,
  to_us      INTEGER,
  cause      TEXT NOT NULL,
  PRIMARY KEY (soak, test_point, measure, from_us)
) STRICT, WITHOUT ROWID;

CREATE TABLE event (
  id         INTEGER PRIMARY KEY,
  at_us      INTEGER NOT NULL,
  bench      TEXT NOT NULL,
  instrument TEXT NOT NULL,
  kind       TEXT NOT NULL,
  text       TEXT NOT NULL
) STRICT;
CREATE INDEX event_by_time ON event (at_us);

CREATE TABLE verdict (
  id         INTEGER PRIMARY KEY,
  soak       INTEGER NOT NULL REFERENCES soak,
  at_us      INTEGER NOT NULL,
  outcome    TEXT NOT NULL,
  evidence   REAL,
  sheet_hash TEXT NOT NULL,
  whole      BLOB NOT NULL    -- JSON
) STRICT;
CREATE INDEX verdict_by_soak ON verdict (soak, id);

CREATE TABLE trial (
  id        INTEGER PRIMARY KEY AUTOINCREMENT,
  unit      TEXT NOT NULL REFERENCES unit,
  part      TEXT NOT NULL,
  unit_name TEXT NOT NULL,    -- of the candidates: 'ohms', 'farads'
  begin_us  INTEGER NOT NULL,
  end_us    INTEGER,
  chosen    REAL
) STRICT;

CREATE TABLE round (
  id        INTEGER PRIMARY KEY AUTOINCREMENT,
  bench     TEXT NOT NULL,
  unit      TEXT NOT NULL REFERENCES unit,
  label     TEXT NOT NULL,
  sheet     TEXT NOT NULL REFERENCES sheet,
  begin_us  INTEGER NOT NULL,
  end_us    INTEGER,
  trial     INTEGER REFERENCES trial,
  candidate REAL,
  UNIQUE (unit, label)
) STRICT;

CREATE TABLE round_reading (
  round       INTEGER NOT NULL REFERENCES round,
  test_point  TEXT NOT NULL,
  measure     TEXT NOT NULL,
  instrument  TEXT NOT NULL,
  at_us       INTEGER NOT NULL,
  coefficient INTEGER,
  exponent    INTEGER,
  digits      TEXT,
  bits        INTEGER,
  u           REAL NOT NULL,
  averaged    INTEGER NOT NULL,
  PRIMARY KEY (round, test_point, measure)
) STRICT, WITHOUT ROWID;

CREATE TABLE capture (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  soak       INTEGER REFERENCES soak,
  round      INTEGER REFERENCES round,
  test_point TEXT NOT NULL,
  instrument TEXT NOT NULL,
  kind       TEXT NOT NULL,
  at_us      INTEGER NOT NULL,
  samples    INTEGER NOT NULL,
  record     BLOB NOT NULL,
  CHECK ((soak IS NULL) <> (round IS NULL))
) STRICT;
CREATE INDEX capture_by_soak ON capture (soak, at_us);
CREATE INDEX capture_by_round ON capture (round, at_us);
