-- Format 5: a run says which limb it is of, or which half after a cut in the midline; a slab may be planned only.

ALTER TABLE run ADD COLUMN limb TEXT NOT NULL DEFAULT '' CHECK (limb IN ('', 'right-upper', 'left-upper', 'right-lower', 'left-lower'));
ALTER TABLE run ADD COLUMN half TEXT NOT NULL DEFAULT '' CHECK (half IN ('', 'left', 'right') AND (half = '' OR limb = ''));
ALTER TABLE slab ADD COLUMN planned INTEGER NOT NULL DEFAULT 0 CHECK (planned IN (0, 1));
