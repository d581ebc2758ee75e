// Package compare sets one swing against another: what is the same, what is
// different, and what the figures cannot tell.
//
// The path of a comparison:
//
//  1. Conditions. Unlike balls, views, clocks, strokes and speeds come first as
//     warnings, and say which verdicts they weaken and by how much (conditions.go).
//  2. Figures. Candidate lengths are scaled to the reference's stature where
//     both are known; each difference gets the error of both sides (figures.go).
//  3. Curves. The two traces are put into the player's own right-handed axes,
//     aligned piecewise linearly between common events, and subtracted from the
//     turn (or toss) to the end of the follow-through. The
//     surest events are taken first; one that would turn their order or that
//     pushes the courses apart is no knot; the rest move within their errors
//     toward an even pace. Elastic alignment within each phase is the check
//     (align.go, curves.go).
//  4. Verdicts. All figures and curves are one family: those are DIFFERENT whose
//     p-values pass Benjamini and Hochberg's step-up rule; SAME is a statement
//     of equivalence; the rest CANNOT be told (verdict.go).
//  5. Weights. What matters and is plainly different comes first, effects under
//     their causes (verdict.go, traits.go).
//  6. Words. One sentence a coach would say, with the physics of path and time
//     where the figures carry it (words.go, phrases.go).
package compare
