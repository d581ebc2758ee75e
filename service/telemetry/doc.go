// Package telemetry tells an operator how the service does: metrics for
// Prometheus, traces by OTLP, logs as JSON with trace ids. deploy/metrics.md
// lists every name.
//
// All of it looks at calls from outside, as interceptors around the service:
//
//  1. Start reads the standard OTEL_* variables and makes what they ask for;
//     nothing asked for is nothing installed.
//  2. Watch counts what goes in and out of each call (watch.go, read.go): frames,
//     findings, refusals, how a stream ended, how long a finding took.
//  3. The service itself tells two delays that cannot be seen from outside, by
//     Config.Took.
//
// No frame, point, id, address or key gets into any of it.
package telemetry
