-- Version 7: soaks that were thinned, see thin.go.

-- One row per soak of which readings were replaced by envelopes: when, what for, and
-- how many readings that were. kept_us is how far around excursions, rounds and
-- final tests nothing was thinned, step_us the interval of the envelopes.
CREATE TABLE thinning (
  soak     INTEGER PRIMARY KEY REFERENCES soak,
  at_us    INTEGER NOT NULL,
  older_us INTEGER NOT NULL,
  kept_us  INTEGER NOT NULL,
  step_us  INTEGER NOT NULL,
  readings INTEGER NOT NULL
) STRICT;

-- One row for each block that was thinned, under the number that it had.
CREATE TABLE thinned (
  series   INTEGER NOT NULL REFERENCES series,
  first_us INTEGER NOT NULL,
  id       INTEGER NOT NULL,
  last_us  INTEGER NOT NULL,
  count    INTEGER NOT NULL,
  data     BLOB NOT NULL,
  PRIMARY KEY (series, first_us, id)
) STRICT, WITHOUT ROWID;
