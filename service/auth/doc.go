// Package auth says who may call what, and how much.
//
// The path of a call:
//
//  1. Tap. Before a byte of a request's body is read, the bearer token in its
//     metadata is checked: an API key from a file of hashes, or a JWT signed by a
//     key of a JWKS file or of an OpenID issuer, which is asked for its keys. With mutual TLS and neither, the certificate's name is
//     the caller.
//  2. Rule. Each RPC names the scope that it asks for (rules.go). An RPC without
//     a rule is refused, whoever calls.
//  3. Quota. The caller's tenant has a rate of calls, a number of live practices,
//     a rate of frames (which holds the sender) and frames a day.
//
// A Gate without keys, tokens or certificates is open: everyone may call
// everything that has a rule.
package auth
