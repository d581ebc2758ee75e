// Package gateway serves the contract over HTTP: JSON for single calls,
// newline-delimited JSON and WebSocket for live practice, the OpenAPI document
// and the page. It is a client of the contract and knows nothing else of the
// service.
//
// All transports behave alike: the same limits, the same errors, the same
// results. A call's error is google.rpc.Status as JSON; a stream's error is a
// last line {"error": Status}; a WebSocket's is close code 4000 + the gRPC code
// with the message as its reason.
package gateway
