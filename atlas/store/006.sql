-- Format 6: a line of what was shown cannot be replaced either. REPLACE deletes without asking the trigger that guards deletion.

CREATE TRIGGER shown_new BEFORE INSERT ON shown WHEN EXISTS (SELECT 1 FROM shown WHERE line = NEW.line)
BEGIN SELECT RAISE(ABORT, 'the record of what was shown only grows'); END;
