package bench

import (
	"context"

	"sectionary/atlas/practice"
)

// practiceSeed makes every practice lab the same.
const practiceSeed = 7

func buildPractice(ctx context.Context, dir string, tell func(done, total int)) error {
	return practice.Build(ctx, dir, practiceSeed, tell)
}
