package bench

import "testing"

func TestARunOpensOnItsFirstPhotographedFaceWhenAsked(t *testing.T) {
	b, q, _ := sample(t)
	run := b.Run().ID
	for _, want := range []bool{false, true} {
		b.o.OnPicture = want
		b.ChooseRun(run)
		q.run()
		if got := b.Face().Slab != 0; got != want {
			t.Errorf("asked %v: the run opens on %v", want, b.Face())
		}
		if want && !b.Info(b.Face()).Photo {
			t.Errorf("opened on %s, which has no photograph", b.Face().Name())
		}
	}
}
