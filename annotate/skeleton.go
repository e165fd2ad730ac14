package annotate

import "errors"

var errSkeleton = errors.New("annotate: not written yet")
