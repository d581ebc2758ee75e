package track
import ("testing";"example.com/courtkin/service/geom")
func zzp() (*grid,*path) {
	g := newGrid(solveSteps, 0, 2.3, 2.7)
	s, start := seenPath(g, 0)
	p := &path{}
	p.lay(g, s)
	copy(p.mean, start)
	p.settle(seenRough, 2)
	return g, p
}
func BenchmarkZDraw(b *testing.B) {
	g, p := zzp()
	out := make([]geom.Vec3, len(g.t))
	for i := 0; b.Loop(); i++ { p.draw(newDice(77, i), out) }
}
func BenchmarkZSolve(b *testing.B) {
	_, p := zzp()
	for i := 0; b.Loop(); i++ { p.solve() }
}
func BenchmarkZFactor(b *testing.B) {
	_, p := zzp()
	for i := 0; b.Loop(); i++ { p.fac.copy(&p.info); p.fac.factor() }
}
func BenchmarkZBook(b *testing.B) {
	_, p := zzp()
	for i := 0; b.Loop(); i++ { p.reweigh() }
}
func BenchmarkZEvidence(b *testing.B) {
	_, p := zzp()
	var prior band
	prior.reset(len(p.g.t), 4)
	p.informPrior(&prior)
	l := &ledger{p: p}
	l.scale = 1
	for i := 0; b.Loop(); i++ { l.evidence(&prior) }
}
func BenchmarkZBreaker(b *testing.B) {
	g := newGrid(solveSteps, 0, 2.3, 2.7)
	s, _ := seenPath(g, 0)
	ts := candidates(2.3)
	r, _ := impactRough(7)
	for i := 0; b.Loop(); i++ { newBreaker(s, r, 2.3, &breakRoom{}).choose(ts) }
}
