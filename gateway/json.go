package gateway

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strings"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
)

// encoder writes the protobuf JSON mapping with defaults spelled out, so that
// a client finds an empty list and not a missing one; what is unset stays out.
var encoder = protojson.MarshalOptions{EmitDefaultValues: true}

// coder is the JSON of single calls: it takes whole bodies, refuses fields that
// it does not know, and bounds how many objects a body may hold: an empty one
// is three bytes of text and two hundred of memory.
type coder struct {
	runtime.JSONPb
	objects int
}

func newCoder(objects int) *coder {
	return &coder{JSONPb: runtime.JSONPb{MarshalOptions: encoder}, objects: objects}
}

// NewDecoder reads a body to its end as one message; an empty body is io.EOF.
func (c *coder) NewDecoder(r io.Reader) runtime.Decoder {
	return runtime.DecoderFunc(func(v any) error {
		body, err := io.ReadAll(r)
		if err != nil {
			return err
		}
		if len(bytes.TrimSpace(body)) == 0 {
			return io.EOF
		}
		m, ok := v.(proto.Message)
		if !ok {
			return fmt.Errorf("cannot decode into %T", v)
		}
		return decode(body, m, c.objects)
	})
}

// limitError is the text by which a passed limit is known again after the
// generated code has wrapped it.
type limitError struct {
	limit string
	most  int64
	unit  string
}

func (e limitError) Error() string {
	return fmt.Sprintf("limit %s: at most %d %s", e.limit, e.most, e.unit)
}

// decode reads one JSON message strictly.
func decode(raw []byte, m proto.Message, objects int) error {
	if bytes.Count(raw, []byte{'{'}) > objects {
		return limitError{"objects", int64(objects), "JSON objects"}
	}
	return protojson.Unmarshal(raw, m)
}

// What protojson says: proto: (line 1:15): unknown field "framez". Its blanks
// are sometimes no-break ones.
var (
	protoText = regexp.MustCompile(`^proto:\s*(?:syntax error )?\(line (\d+):(\d+)\):\s*(.*)$`)
	fieldText = regexp.MustCompile(`^(?:unknown field|duplicate field) "([^"]+)"|field (\S+):`)
	limitText = regexp.MustCompile(`^limit (\w+): at most (\d+) `)
)

// jsonError turns what decode said into a status: INVALID_ARGUMENT naming the
// field, or RESOURCE_EXHAUSTED naming the limit.
func jsonError(said string) *status.Status {
	said = strings.ToValidUTF8(strings.ReplaceAll(said, "\u00a0", " "), "\ufffd")
	if m := limitText.FindStringSubmatch(said); m != nil {
		return detailed(codes.ResourceExhausted, said, &errdetails.ErrorInfo{
			Reason: "LIMIT_PASSED", Domain: "courtkin.example.com", Metadata: map[string]string{"limit": m[1], "most": m[2]},
		})
	}
	field := "body"
	if m := protoText.FindStringSubmatch(said); m != nil {
		said = fmt.Sprintf("%s (line %s, column %s)", m[3], m[1], m[2])
		if f := fieldText.FindStringSubmatch(m[3]); f != nil {
			field = f[1] + f[2]
		}
	}
	said = strings.TrimSpace(strings.TrimPrefix(said, "proto:"))
	return detailed(codes.InvalidArgument, said, &errdetails.BadRequest{
		FieldViolations: []*errdetails.BadRequest_FieldViolation{{Field: field, Description: said}},
	})
}
