package main

import (
	"path/filepath"
	"strconv"
	"testing"
)

// recordedFloors are what answers on recorded players with a made racket and a made ball
// must keep (testdata/reference/strokes/recorded.py). Set after the fact, a third or so
// under the worse of seeds 1 and 2 with these recordings (W: named 93 %, tip 4.4 %, inside
// 91 %, lies of events 1.8 %; P: tip 5.9 %, turns 8.3 degrees, inside 97 %); where those
// were without fault there is room for two strokes of fourteen, or a few lies. Guards
// against getting worse, no proof of being good. The goals are tighter: found 99.5 % (P
// 99), named 99 (P 98), tip 2 % (P 7), turns 2 (P 5) degrees, 92 to 98 % inside, lies
// .5 %; W's tip and inside and P's turns fall short of them. That a blow costs the tip 20
// to 30 % is in the engine and in these clips alike: they cannot show it wrong.
var recordedFloors = []floor{
	{"W", 14, 85, 15, 78, 2, 6, 1, .8, 82, 2, 6},
	{"P", 14, 85, 15, 78, 2.5, 8.5, 12, 5, 85, 3, 6},
}

// TestARecordedPlayerWithAMadeRacket analyses clips in which the body moves as a person
// did. Fourteen single strokes, each under both conditions.
func TestARecordedPlayerWithAMadeRacket(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: some seconds of Python and analysis: run without -short")
	}
	readScripts(t)
	if files, _ := filepath.Glob(recordings + "/tm*.csv"); len(files) == 0 {
		t.Skipf("SKIPPED: no recordings at %s", recordings)
	}
	const seed, clips = 2, 14
	dir := t.TempDir()
	python(t, "recorded.py", recordings, dir, "--conditions", "WP", "--seed", strconv.Itoa(seed), "--clips", strconv.Itoa(clips))
	for _, f := range recordedFloors {
		t.Run(f.condition, func(t *testing.T) {
			f.hold(t, f.score(t, filepath.Join(dir, f.condition)))
		})
	}
}
