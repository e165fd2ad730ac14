-- Format 2: lists read the labels of a plate from its own row; custody has its ledger.

-- Labels of a plate in one text, so that a list of 4,000 faces reads 4,000 rows: fields label, term, side and sureness
-- parted by U+001F, labels by U+001E. plate_label stays for searching by term.
ALTER TABLE plate ADD COLUMN labels TEXT NOT NULL DEFAULT '';
UPDATE plate SET labels = coalesce((SELECT group_concat(label || x'1f' || term || x'1f' || side || x'1f' || sure, x'1e' ORDER BY label)
                                    FROM plate_label WHERE plate = plate.id), '');

-- The ledger of custody. Lines are only ever added; hash is over the line's text and the hash of the line before.
CREATE TABLE ledger (
    line INTEGER PRIMARY KEY CHECK (line > 0),
    text TEXT NOT NULL CHECK (json_valid(text)),
    hash TEXT NOT NULL CHECK (length(hash) = 64)
) STRICT;
CREATE TRIGGER ledger_kept BEFORE DELETE ON ledger BEGIN SELECT RAISE(ABORT, 'the ledger only grows'); END;
CREATE TRIGGER ledger_fixed BEFORE UPDATE ON ledger BEGIN SELECT RAISE(ABORT, 'the ledger only grows'); END;
CREATE TRIGGER ledger_next BEFORE INSERT ON ledger WHEN NEW.line <> (SELECT coalesce(max(line), 0) + 1 FROM ledger)
BEGIN SELECT RAISE(ABORT, 'the ledger grows line by line'); END;
