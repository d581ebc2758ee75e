package swing

import "math"

// leastWind returns the turn, degrees, from which on the chest was wound up:
// noise alone wanders over some five standard deviations in a second, and an
// image shows a turn with less certainty.
func (d *detector) leastWind(world bool) float64 {
	sum, n := 0.0, 0.0
	for i := range d.trail {
		if b := float64(d.trail[i].blur); b > 0 {
			sum += b
			n++
		}
	}
	least := thresholds.wound + 5*sum/math.Max(n, 1)
	if !world {
		least *= 2
	}
	return least
}

// windUp returns how far the chest had turned the other way, within windReach
// before it began the turn in which the burst has its peak: degrees; NaN when
// the chest was not seen. A swing unwinds; a take-back winds up. back is how far
// it turned the other way afterwards, by how far it had come back at the peak.
func (d *detector) windUp() (wind, back, by float64) {
	i := len(d.trail) - 1
	for i >= 0 && d.trail[i].timeUS > d.b.peakUS+d.view.us(0.05) {
		i--
	}
	sign := d.turnSign(i, d.b.peakUS)
	if sign == 0 {
		return math.NaN(), 0, 0
	}
	wind, by = d.unwound(i, sign)
	return wind, d.rewound(i, sign), by
}

// unwinds reports whether at sample i, the newest, the chest comes back from
// having been wound up, and has come some way: at the turning point the hand may
// still be fast from the take-back.
func (d *detector) unwinds(i int) bool {
	s := &d.trail[i]
	sign := d.turnSign(i, s.timeUS)
	if sign == 0 || float64(s.turn)*sign < 0 {
		return false
	}
	wind, by := d.unwound(i, sign)
	back := comeBack + 2*float64(s.blur)
	return wind >= d.leastWind(s.world) && (by >= back || by >= comeBack && d.bodyAlone() && s.goesForward(sign, wind, by))
}

// comeBack is how far, degrees, the chest of a player who hits has unwound at
// least: volleys some 25, all others more.
const comeBack = 12

// turnSign returns the sign of the chest's turn about an instant, from sample i
// back; 0 when none was seen.
func (d *detector) turnSign(i int, us int64) float64 {
	fastest := d.fastestTurn(i, us, 0.12)
	if math.Abs(fastest) < 60 {
		fastest = d.fastestTurn(i, us, turnReach)
	}
	if fastest == 0 {
		return 0
	}
	return math.Copysign(1, fastest)
}

// rewound walks on from sample i: along the turn of the given sign to where it
// ends, then along the opposite turn after it, and returns the latter's extent
// within windNext of the peak. What follows a take-back is the swing.
func (d *detector) rewound(i int, sign float64) float64 {
	angle, end, most := 0.0, 0.0, 0.0
	last := d.trail[i].facing
	for k := i + 1; k < len(d.trail) && !d.trail[k].other && d.view.seconds(d.b.peakUS, d.trail[k].timeUS) < windNext; k++ {
		f := d.trail[k].facing
		if f == f && last == last {
			angle += turnTo(f-last) * sign
		}
		if f == f {
			last = f
		}
		if angle > end {
			end, most = angle, 0
		}
		most = max(most, end-angle)
	}
	return most
}

// fastestTurn returns the fastest turn rate in the reach seconds before an instant, from sample i back.
func (d *detector) fastestTurn(i int, us int64, reach float64) float64 {
	fastest := 0.0
	for k := i; k >= 0 && d.view.seconds(d.trail[k].timeUS, us) < reach; k-- {
		if r := float64(d.trail[k].turn); math.Abs(r) > math.Abs(fastest) {
			fastest = r
		}
	}
	return fastest
}

// unwound walks back from sample i: first along the turn of the given sign to
// where it began, then along the opposite turn before it, and returns the
// latter's extent, and how far the chest has come back since.
func (d *detector) unwound(i int, sign float64) (most, begin float64) {
	angle := 0.0
	last := d.trail[i].facing
	for k := i - 1; k >= 0 && !d.trail[k+1].other; k-- {
		f := d.trail[k].facing
		if f != f || last != last {
			if f == f {
				last = f
			}
			continue
		}
		angle += turnTo(f-last) * -sign // how much further turned now than then
		last = f
		if angle > begin {
			begin, most = angle, 0
		}
		most = max(most, begin-angle)
	}
	return most, begin
}

// turnTo is the turn, degrees in [−180, 180], between two headings that differ by d degrees.
func turnTo(d float32) float64 {
	t := float64(d)
	switch { // the quick ways are exact, so that all three say the same
	case math.Abs(t) <= 180:
		return t
	case math.Abs(t) < 540:
		return t - math.Copysign(360, t)
	}
	return math.Remainder(t, 360) // an apparent turn may be any number
}
