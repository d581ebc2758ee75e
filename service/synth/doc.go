// Package synth makes tennis swings whose answers are known: a jointed body, a
// rigid racket and a ball as smooth functions of time, broken at impact, seen
// through made cameras with made faults.
//
// The path of the data: a Spec names what is wanted (stroke, level, hand,
// stature, knobs, seed); NewSwing or NewPractice turns it into a Motion, from
// which At gives every point at any instant; Truth applies the definitions of
// the catalog to the fine motion; Shoot turns a Motion into the frames of one
// capture condition.
//
// A motion is a sum of smooth steps on some forty joint coordinates. It shares
// nothing with the smoothers that will be asked to recover it.
package synth
