// Package webtest drives the page in a real browser, against the real gateway
// and the real service. It holds tests alone.
//
// The tests need Chromium, Node with npm, and the pinned tools of
// .ci/tools/web, which they install when they are missing. They are left out
// with -short. With COURTKIN_SHOTS=DIR they also leave pictures of every place.
package webtest
