package k8s

import (
	"testing"

	bootstrap "github.com/envoyproxy/go-control-plane/envoy/config/bootstrap/v3"
	_ "github.com/envoyproxy/go-control-plane/envoy/config/listener/v3"
	route "github.com/envoyproxy/go-control-plane/envoy/config/route/v3"
	_ "github.com/envoyproxy/go-control-plane/envoy/extensions/filters/http/router/v3"
	_ "github.com/envoyproxy/go-control-plane/envoy/extensions/filters/network/http_connection_manager/v3"
	_ "github.com/envoyproxy/go-control-plane/envoy/extensions/transport_sockets/tls/v3"
	_ "github.com/envoyproxy/go-control-plane/envoy/extensions/upstreams/http/v3"
	discovery "github.com/envoyproxy/go-control-plane/envoy/service/discovery/v3"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protopath"
	"google.golang.org/protobuf/reflect/protorange"
	"sigs.k8s.io/yaml"
)

// TestEnvoy reads the proxy's files as Envoy does: unknown fields are errors,
// and every message, also inside an Any, is held to the API's own rules.
func TestEnvoy(t *testing.T) {
	const folder = "kustomize/components/"
	for _, c := range []struct {
		path string
		into proto.Message
	}{
		{"envoy/envoy.yaml", &bootstrap.Bootstrap{}},
		{"envoy/listener.yaml", &discovery.DiscoveryResponse{}},
		{"envoy/routes.yaml", &discovery.DiscoveryResponse{}},
		{"tls/listener.yaml", &discovery.DiscoveryResponse{}},
		{"tls/secret.yaml", &discovery.DiscoveryResponse{}},
	} {
		t.Run(c.path, func(t *testing.T) {
			json, err := yaml.YAMLToJSONStrict(read(t, folder, c.path))
			if err != nil {
				t.Fatal(err)
			}
			if err := protojson.Unmarshal(json, c.into); err != nil {
				t.Fatal(err)
			}
			validate(t, c.into)
		})
	}
}

// validate asks each message for what its own rules find wrong.
func validate(t *testing.T, m proto.Message) {
	t.Helper()
	seen := 0
	err := protorange.Range(m.ProtoReflect(), func(p protopath.Values) error {
		last := p.Index(-1)
		if last.Step.Kind() != protopath.RootStep && last.Step.Kind() != protopath.AnyExpandStep {
			return nil
		}
		message := last.Value.Message().Interface()
		if v, ok := message.(interface{ ValidateAll() error }); ok {
			seen++
			return v.ValidateAll()
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
	if seen == 0 {
		t.Error("no message was validated")
	}
}

// TestEdgeKeepsOperatorsPagesInside: the first route for each answers 404.
func TestEdgeKeepsOperatorsPagesInside(t *testing.T) {
	json, err := yaml.YAMLToJSONStrict(read(t, "kustomize/components/envoy/routes.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	var answer discovery.DiscoveryResponse
	if err := protojson.Unmarshal(json, &answer); err != nil {
		t.Fatal(err)
	}
	var config route.RouteConfiguration
	if err := answer.GetResources()[0].UnmarshalTo(&config); err != nil {
		t.Fatal(err)
	}
	for _, page := range []string{"/metrics", "/healthz", "/readyz"} {
		for _, r := range config.GetVirtualHosts()[0].GetRoutes() {
			if r.GetMatch().GetPath() != page && r.GetMatch().GetPrefix() == "" {
				continue
			}
			if r.GetDirectResponse().GetStatus() != 404 {
				t.Errorf("%s reaches the pods", page)
			}
			break
		}
	}
}
