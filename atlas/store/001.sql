-- Format 1. Times are UTC, RFC 3339; days are YYYY-MM-DD or '' for not recorded; booleans are 0 or 1.

CREATE TABLE meta (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE donor (
    code      TEXT PRIMARY KEY CHECK (length(code) BETWEEN 1 AND 64),
    synthetic INTEGER NOT NULL CHECK (synthetic IN (0, 1))
) STRICT;

CREATE TABLE agreement (
    donor      TEXT PRIMARY KEY REFERENCES donor (code),
    reference  TEXT NOT NULL,
    ends       TEXT NOT NULL CHECK (ends = '' OR ends GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    changed_by TEXT NOT NULL
) STRICT;

-- No row means not recorded, and not recorded means no.
CREATE TABLE permitted_use (
    donor     TEXT NOT NULL REFERENCES agreement (donor),
    purpose   TEXT NOT NULL CHECK (purpose IN ('teaching', 'exam', 'other-institution', 'research', 'publication',
                                               'public-web', 'social-media', 'display', 'commercial')),
    permitted INTEGER NOT NULL CHECK (permitted IN (0, 1)),
    PRIMARY KEY (donor, purpose)
) STRICT, WITHOUT ROWID;

CREATE TABLE run (
    id     TEXT PRIMARY KEY,
    donor  TEXT NOT NULL REFERENCES donor (code),
    part   TEXT NOT NULL,
    plane  TEXT NOT NULL CHECK (plane IN ('transverse', 'frontal', 'sagittal')),
    first  TEXT NOT NULL,
    length REAL NOT NULL CHECK (length >= 0), -- mm before cutting, 0 when not measured
    UNIQUE (id, plane),
    UNIQUE (id, donor)
) STRICT;
CREATE INDEX run_donor ON run (donor);

CREATE TABLE slab (
    run      TEXT NOT NULL REFERENCES run (id),
    number   INTEGER NOT NULL CHECK (number > 0),
    position INTEGER NOT NULL, -- order along the run
    t1       REAL NOT NULL,    -- thickness in mm at up to three points, 0 where not measured
    t2       REAL NOT NULL,
    t3       REAL NOT NULL,
    kerf     REAL NOT NULL CHECK (kerf >= 0), -- mm, the cut after the slab
    PRIMARY KEY (run, number)
) STRICT, WITHOUT ROWID;

-- Every slab has two faces, and only those that its plane allows.
CREATE TABLE face (
    run    TEXT NOT NULL,
    slab   INTEGER NOT NULL,
    facing TEXT NOT NULL,
    plane  TEXT NOT NULL,
    PRIMARY KEY (run, slab, facing),
    FOREIGN KEY (run, slab) REFERENCES slab (run, number),
    FOREIGN KEY (run, plane) REFERENCES run (id, plane),
    CHECK ((plane = 'transverse' AND facing IN ('superior', 'inferior'))
        OR (plane = 'frontal' AND facing IN ('anterior', 'posterior'))
        OR (plane = 'sagittal' AND facing IN ('left', 'right')))
) STRICT, WITHOUT ROWID;

CREATE TABLE photo (
    sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    ext    TEXT NOT NULL, -- with the dot
    bytes  INTEGER NOT NULL,
    added  TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- One photograph with all that is known of its face. An unplaced one has no run, slab and facing.
CREATE TABLE plate (
    id        TEXT PRIMARY KEY,
    donor     TEXT NOT NULL REFERENCES donor (code),
    run       TEXT,
    slab      INTEGER,
    facing    TEXT,
    photo     TEXT NOT NULL UNIQUE REFERENCES photo (sha256),
    retired   INTEGER NOT NULL CHECK (retired IN (0, 1)),
    synthetic INTEGER NOT NULL CHECK (synthetic IN (0, 1)),
    rev       INTEGER NOT NULL CHECK (rev > 0),
    saved     TEXT NOT NULL,
    facts     TEXT NOT NULL CHECK (json_valid(facts)), -- the few things of the document that lists show
    doc       TEXT NOT NULL CHECK (json_valid(doc)),
    FOREIGN KEY (run, slab, facing) REFERENCES face (run, slab, facing),
    FOREIGN KEY (run, donor) REFERENCES run (id, donor),
    CHECK ((run IS NULL) = (slab IS NULL) AND (run IS NULL) = (facing IS NULL))
) STRICT;
CREATE INDEX plate_donor ON plate (donor);
-- At most one current photograph for each face; earlier ones are kept as retired.
CREATE UNIQUE INDEX plate_current ON plate (run, slab, facing) WHERE retired = 0 AND run IS NOT NULL;

-- What a plate's labels name, kept beside the document so that lists and searches open no plate.
CREATE TABLE plate_label (
    plate TEXT NOT NULL REFERENCES plate (id) ON DELETE CASCADE,
    label TEXT NOT NULL,
    term  TEXT NOT NULL,
    side  TEXT NOT NULL,
    sure  TEXT NOT NULL,
    PRIMARY KEY (plate, label)
) STRICT, WITHOUT ROWID;
CREATE INDEX plate_label_term ON plate_label (term);

CREATE TABLE series (
    uid    TEXT PRIMARY KEY,
    donor  TEXT NOT NULL REFERENCES donor (code),
    file   TEXT NOT NULL UNIQUE, -- base name under volumes/, without extension
    volume TEXT NOT NULL,        -- SHA-256 of volumes/<file>.nii
    side   TEXT NOT NULL,        -- SHA-256 of volumes/<file>.json
    doc    TEXT NOT NULL CHECK (json_valid(doc)),
    added  TEXT NOT NULL,
    UNIQUE (donor, volume)       -- the same voxels are brought in once
) STRICT;
CREATE INDEX series_donor ON series (donor);

CREATE TABLE level_ties (
    run    TEXT NOT NULL REFERENCES run (id),
    series TEXT NOT NULL REFERENCES series (uid),
    doc    TEXT NOT NULL CHECK (json_valid(doc)),
    PRIMARY KEY (run, series)
) STRICT, WITHOUT ROWID;

-- What left the lab, or was refused. Lines are only ever added.
CREATE TABLE hand_out (
    line    INTEGER PRIMARY KEY AUTOINCREMENT,
    id      TEXT NOT NULL, -- the code on the hand-out
    at      TEXT NOT NULL,
    purpose TEXT NOT NULL,
    donor   TEXT NOT NULL,
    plates  TEXT NOT NULL CHECK (json_valid(plates)),
    allowed INTEGER NOT NULL CHECK (allowed IN (0, 1)),
    reason  TEXT NOT NULL,
    files   TEXT NOT NULL CHECK (json_valid(files))
) STRICT;
CREATE INDEX hand_out_id ON hand_out (id);
CREATE TRIGGER hand_out_kept BEFORE DELETE ON hand_out BEGIN SELECT RAISE(ABORT, 'the record of hand-outs only grows'); END;
CREATE TRIGGER hand_out_fixed BEFORE UPDATE ON hand_out BEGIN SELECT RAISE(ABORT, 'the record of hand-outs only grows'); END;
