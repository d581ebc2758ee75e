package proto_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"

	"example.com/courtkin/proto"
	pb "example.com/courtkin/proto/courtkin/v1"
)

// files are all files of the contract.
var files = []protoreflect.FileDescriptor{
	pb.File_courtkin_v1_catalog_proto, pb.File_courtkin_v1_check_proto, pb.File_courtkin_v1_clip_proto,
	pb.File_courtkin_v1_compare_proto, pb.File_courtkin_v1_feed_proto, pb.File_courtkin_v1_frame_proto,
	pb.File_courtkin_v1_live_proto, pb.File_courtkin_v1_player_proto, pb.File_courtkin_v1_practice_proto,
	pb.File_courtkin_v1_service_proto, pb.File_courtkin_v1_setup_proto, pb.File_courtkin_v1_swing_proto,
}

// lines writes the contract as a table: one line for each field, enum value
// and method, with all that must not change.
func lines() map[string]bool {
	out := map[string]bool{}
	for _, f := range files {
		enumLines(out, f.Enums())
		messageLines(out, f.Messages())
		for i := range f.Services().Len() {
			methodLines(out, f.Services().Get(i))
		}
	}
	return out
}

func enumLines(out map[string]bool, es protoreflect.EnumDescriptors) {
	for i := range es.Len() {
		for j := range es.Get(i).Values().Len() {
			v := es.Get(i).Values().Get(j)
			out[fmt.Sprintf("enum %s %s = %d", es.Get(i).FullName(), v.Name(), v.Number())] = true
		}
	}
}

func messageLines(out map[string]bool, ms protoreflect.MessageDescriptors) {
	for i := range ms.Len() {
		enumLines(out, ms.Get(i).Enums())
		messageLines(out, ms.Get(i).Messages())
		for j := range ms.Get(i).Fields().Len() {
			f := ms.Get(i).Fields().Get(j)
			out[fmt.Sprintf("field %s %s json=%s %s %s%s", f.FullName(), number(f), f.JSONName(), f.Cardinality(), kind(f), oneof(f))] = true
		}
	}
}

func number(f protoreflect.FieldDescriptor) string { return fmt.Sprintf("= %d", f.Number()) }

func kind(f protoreflect.FieldDescriptor) string {
	switch {
	case f.Message() != nil:
		return string(f.Message().FullName())
	case f.Enum() != nil:
		return string(f.Enum().FullName())
	}
	return f.Kind().String()
}

// oneof names a real oneof; `optional` may be added to a field without any
// change on the wire.
func oneof(f protoreflect.FieldDescriptor) string {
	if o := f.ContainingOneof(); o != nil && !o.IsSynthetic() {
		return " oneof " + string(o.Name())
	}
	return ""
}

func methodLines(out map[string]bool, s protoreflect.ServiceDescriptor) {
	for i := range s.Methods().Len() {
		m := s.Methods().Get(i)
		out[fmt.Sprintf("rpc %s %s stream=%v -> %s stream=%v", m.FullName(),
			m.Input().FullName(), m.IsStreamingClient(), m.Output().FullName(), m.IsStreamingServer())] = true
	}
}

// TestContractKeepsWhatWasAgreed compares the generated descriptors with the
// table of testdata, which was made once from the outline that outside callers
// hold. Lines may be added to the contract, never taken away or changed.
func TestContractKeepsWhatWasAgreed(t *testing.T) {
	table, err := os.ReadFile("testdata/contract.txt")
	if err != nil {
		t.Fatal(err)
	}
	have, n := lines(), 0
	for line := range strings.Lines(string(table)) {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		n++
		if !have[line] {
			t.Errorf("agreed but not in the contract: %s", line)
		}
	}
	if n < 300 {
		t.Errorf("only %d lines in the table", n)
	}
}

// TestOpenAPIHasEveryRoute looks for the unary routes in the document that is served.
func TestOpenAPIHasEveryRoute(t *testing.T) {
	var doc struct {
		Swagger string
		Paths   map[string]map[string]json.RawMessage
	}
	if err := json.NewDecoder(bytes.NewReader(proto.OpenAPI)).Decode(&doc); err != nil {
		t.Fatal(err)
	}
	if doc.Swagger != "2.0" {
		t.Errorf("swagger %q", doc.Swagger)
	}
	for path, verb := range map[string]string{
		"/v1/clips:analyze": "post", "/v1/swings:compare": "post", "/v1/practices:summarize": "post",
		"/v1/feeds:advise": "post", "/v1/setups:check": "post", "/v1/catalog": "get",
	} {
		if doc.Paths[path][verb] == nil {
			t.Errorf("%s %s is missing", verb, path)
		}
	}
}
