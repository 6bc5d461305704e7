-- Version 8: soaks that switch the unit off and on.

-- A pause is an interval in which a unit was switched off as its sheet plans it; the
-- judgement asks for no evidence in it. to_us is NULL while it lasts.
CREATE TABLE pause (
  soak    INTEGER NOT NULL REFERENCES soak,
  from_us INTEGER NOT NULL,
  to_us   INTEGER,
  PRIMARY KEY (soak, from_us)
) STRICT, WITHOUT ROWID;
