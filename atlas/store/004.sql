-- Format 4: exams being made, and what every released picture showed.

CREATE TABLE exam (
    id    TEXT PRIMARY KEY CHECK (length(id) BETWEEN 1 AND 64),
    rev   INTEGER NOT NULL CHECK (rev > 0),
    saved TEXT NOT NULL,
    title TEXT NOT NULL,
    doc   TEXT NOT NULL CHECK (json_valid(doc))
) STRICT, WITHOUT ROWID;

-- One line for each thing shown on a picture that left the lab. Lines are only ever added.
CREATE TABLE shown (
    line   INTEGER PRIMARY KEY AUTOINCREMENT,
    out    TEXT NOT NULL, -- the code on the hand-out
    exam   TEXT NOT NULL, -- the exam it belonged to, '' for others
    at     TEXT NOT NULL,
    kind   TEXT NOT NULL CHECK (kind IN ('face', 'scan')),
    plate  TEXT NOT NULL, -- '' for a scan cut that follows no face
    series TEXT NOT NULL, -- '' for a photograph
    label  TEXT NOT NULL, -- '' when nothing was marked
    term   TEXT NOT NULL,
    side   TEXT NOT NULL,
    doc    TEXT NOT NULL CHECK (json_valid(doc)) -- crop, pose and place of the marker
) STRICT;
CREATE INDEX shown_plate ON shown (plate);
CREATE TRIGGER shown_kept BEFORE DELETE ON shown BEGIN SELECT RAISE(ABORT, 'the record of what was shown only grows'); END;
CREATE TRIGGER shown_fixed BEFORE UPDATE ON shown BEGIN SELECT RAISE(ABORT, 'the record of what was shown only grows'); END;
