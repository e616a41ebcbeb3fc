package decide

import "testing"

// TestReadyLeavesNothingToPool: after Ready no vignette needs a pool that is not there.
func TestReadyLeavesNothingToPool(t *testing.T) {
	count := func() (n int) {
		pools.Range(func(any, any) bool { n++; return true })
		return n
	}
	if err := Ready(); err != nil {
		t.Fatal(err)
	}
	ready := count()
	if ready == 0 {
		t.Fatal("nothing was pooled")
	}
	decided := 0
	for _, v := range readVignettes(t) { // some are refused, as their own test says
		if _, err := Decide(v.findings, v.unit); err == nil {
			decided++
		}
	}
	if decided < 40 {
		t.Errorf("%d vignettes were decided", decided)
	}
	if after := count(); after != ready {
		t.Errorf("%d pools after the vignettes, %d ready", after, ready)
	}
}
