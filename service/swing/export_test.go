package swing

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/track"
)

// Classify is classify, for tests on made swings.
var Classify = classify

// FeaturesOf returns a course's features as text.
func FeaturesOf(c *track.Course, h body.Hand) string {
	f, _ := readFor(c, h)
	return f.String()
}
