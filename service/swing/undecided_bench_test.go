package swing

import (
	"testing"

	"example.com/courtkin/service/camera"
)

// BenchmarkPushUndecided is a phone's stream whose slow-motion factor nobody
// stated: true time and its rivals.
func BenchmarkPushUndecided(b *testing.B) {
	frames := standingFor(2048, 60, layouts[33])
	m, _ := New(Setup{Axes: camera.AxesCamera})
	to := &quiet{}
	span := frames[len(frames)-1].TimeUS + 16_667
	b.ReportAllocs()
	for i := range b.N {
		f := &frames[i%len(frames)]
		f.TimeUS += span * int64(min(1, i/len(frames)))
		if err := m.Push(f, to); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(m.bytes()), "bytes_held")
}
