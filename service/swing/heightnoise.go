package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/track"
)

// heightNoise is the standard deviation of the points' heights about their mean courses up to
// contact, metres, from one draw: two points over two seconds are some forty independent
// heights, which tell it to a tenth. 0 where it cannot be told.
func heightNoise(mean, draw *track.Course, points ...body.Point) float64 {
	square, n := 0.0, 0
	for _, p := range points {
		if !mean.Has[p] || !draw.Has[p] {
			return 0
		}
		sum, sum2, count, j := 0.0, 0.0, 0, 0
		for i, t := range mean.T[:mean.Break+1] {
			for j+2 <= draw.Break && draw.T[j+1] <= t {
				j++
			}
			w := (t - draw.T[j]) / (draw.T[j+1] - draw.T[j])
			if !(w >= 0 && w <= 1) {
				continue // past the draw's own contact
			}
			d := draw.Pos[p][j].Lerp(draw.Pos[p][j+1], w).Y - mean.Pos[p][i].Y
			sum, sum2, count = sum+d, sum2+d*d, count+1
		}
		if count > 0 {
			square, n = square+sum2-sum*sum/float64(count), n+count
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(square / float64(n))
}
