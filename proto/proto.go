// Package proto holds the contract: the .proto files, the Go generated from
// them and the OpenAPI document of the HTTP routes.
package proto

import _ "embed"

//go:generate sh -c "cd .. && rm -f proto/courtkin/v1/*.pb.go proto/courtkin/v1/*.pb.gw.go && go tool -modfile=.ci/tools/buf/go.mod buf generate --template proto/buf.gen.yaml"

// OpenAPI is the OpenAPI 2 document of the HTTP routes, JSON.
//
//go:embed openapi.swagger.json
var OpenAPI []byte
