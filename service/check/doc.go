// Package check foretells, before practice, what a camera placement will
// measure and how well.
//
//  1. Look: what a setup and a second of frames tell of each camera (camera.Check)
//     and of its points: which are seen, how noisy, how often lost.
//  2. Scene: where the cameras and the player stand, in court axes where court
//     marks are seen, else in level axes about the player.
//  3. Foretell: a few made strokes are put where the player stands, filmed by
//     those cameras with that noise, and run through the machine that will serve
//     the practice. The errors that it states are the outlook: for each measure of
//     the catalog the median over the strokes. Where the truth of the made strokes
//     belies a stated error, the error made stands in its place.
//  4. Advise: other places and settings are filmed alike; what clearly helps is
//     said, with the figures.
//
// Nothing of the frames' content enters beyond what was measured of it. The same
// request gives the same answer; the work is bounded by a budget of filmed frames.
package check
