-- Format 3: what becomes of pictures once a donor went back, and every agreement there was.

ALTER TABLE agreement ADD COLUMN after_return TEXT NOT NULL DEFAULT '' CHECK (after_return IN ('', 'keep', 'withdraw'));
-- The day on which the last piece went back, as the ledger says; '' while anything is here.
ALTER TABLE agreement ADD COLUMN returned TEXT NOT NULL DEFAULT '' CHECK (returned = '' OR returned GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]');

-- Every state an agreement was in, the present one too. An end is moved back only under a reference that stands nowhere here.
CREATE TABLE agreement_change (
    line         INTEGER PRIMARY KEY AUTOINCREMENT,
    donor        TEXT NOT NULL REFERENCES donor (code),
    at           TEXT NOT NULL,
    who          TEXT NOT NULL, -- '' when not told
    reference    TEXT NOT NULL,
    ends         TEXT NOT NULL,
    changed_by   TEXT NOT NULL,
    after_return TEXT NOT NULL,
    permitted    TEXT NOT NULL CHECK (json_valid(permitted))
) STRICT;
CREATE INDEX agreement_change_donor ON agreement_change (donor, reference);
CREATE TRIGGER agreement_change_kept BEFORE DELETE ON agreement_change BEGIN SELECT RAISE(ABORT, 'the record of agreements only grows'); END;
CREATE TRIGGER agreement_change_fixed BEFORE UPDATE ON agreement_change BEGIN SELECT RAISE(ABORT, 'the record of agreements only grows'); END;
CREATE TRIGGER agreement_change_next BEFORE INSERT ON agreement_change WHEN EXISTS (SELECT 1 FROM agreement_change WHERE line = NEW.line)
BEGIN SELECT RAISE(ABORT, 'the record of agreements only grows'); END;
-- What replaces a row on the way in is no deletion to SQLite.
CREATE TRIGGER hand_out_next BEFORE INSERT ON hand_out WHEN EXISTS (SELECT 1 FROM hand_out WHERE line = NEW.line)
BEGIN SELECT RAISE(ABORT, 'the record of hand-outs only grows'); END;
INSERT INTO agreement_change (donor, at, who, reference, ends, changed_by, after_return, permitted)
    SELECT donor, strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), '', reference, ends, changed_by, '',
        coalesce((SELECT json_group_object(purpose, permitted) FROM permitted_use WHERE donor = agreement.donor), '{}')
    FROM agreement ORDER BY donor;
