package checks

import (
	"context"
	"fmt"
	"io"
	"math"
	"net"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/wire"
)

// change is something done to a clip that must not change what is found.
type change struct {
	name  string
	shift float64 // s, to every time
	place func(geom.Vec3) geom.Vec3
	point func(body.Point) body.Point
	hand  func(body.Hand) body.Hand
}

func sameHand(h body.Hand) body.Hand { return h }

func otherHand(h body.Hand) body.Hand {
	return map[body.Hand]body.Hand{body.RightHanded: body.LeftHanded, body.LeftHanded: body.RightHanded}[h]
}

// unchanged leaves a clip as it is.
var unchanged = change{"as recorded", 0, sameVec, samePoint, sameHand}

var changes = []change{
	{"turned by 77° about the vertical", 0, geom.RotationAbout(geom.Vec3{Y: 1}, 77*geom.Deg).Apply, samePoint, sameHand},
	{"12.5 s later", 12.5, sameVec, samePoint, sameHand},
	{"in a mirror, left and right swapped", 0, geom.Vec3.MirrorZ, body.Point.Twin, otherHand},
}

// moved is how far a sheet is from another: contact in ms, figures in their own sd.
type moved struct {
	same    bool // one swing, stroke and hand as before
	contact float64
	figures float64 // largest |Δ| ÷ sd over figures known in both that no draw enters
	drawn   float64 // the same over those that the average of random draws corrects
	known   float64 // figures known in either
	once    float64 // figures known in one only
}

// apartFrom compares two analyses of one swing.
func apartFrom(a, b []*measure.Sheet, shift float64, hand func(body.Hand) body.Hand) moved {
	if len(a) != 1 || len(b) != 1 || a[0].Stroke != b[0].Stroke || hand(a[0].Hand) != b[0].Hand {
		return moved{}
	}
	m := moved{same: true, contact: 1000 * math.Abs(when(b[0], phase.Contact)-shift-when(a[0], phase.Contact))}
	for _, f := range a[0].Figures {
		g, ok := b[0].Figure(f.Name)
		if f.Known() || g.Known() {
			m.known++
		}
		d := math.Abs(f.Value-g.Value) / f.SD
		switch {
		case !ok || f.Known() != g.Known():
			m.once++
		case f.Known() && raised(f.Name):
			m.drawn = max(m.drawn, d)
		case f.Known():
			m.figures = max(m.figures, d)
		}
	}
	return m
}

// raised reports whether noise can only raise a figure: the average of its draws then
// corrects it, and draws are drawn in the recording's own axes.
func raised(name string) bool {
	i, ok := measure.Index(name)
	return ok && measure.Catalog()[i].Raised
}

// base is what is found in each clip, unchanged, by name: to the bit what the command
// line tool prints (see streamRows).
func base(t *testing.T) found { return analysed(t) }

// level is the setup that the command line gives such a file.
func level() swing.Setup { return swing.Setup{Axes: camera.AxesLevel, Trace: true} }

func changedSheets(t *testing.T, r *recording, c change) []*measure.Sheet {
	s, err := play(level(), r.frames(c.shift, c.place, c.point))
	if err != nil {
		t.Error(err)
	}
	return s
}

// changedRows are the rows of every change over the recorded clips.
func changedRows() (rows []row) {
	for i, c := range changes {
		var once sync.Once
		var all []moved
		rows = append(rows, c.rows("rec same", "clips "+c.name, i, func(t *testing.T) []moved {
			once.Do(func() {
				clips, before := singles(t), base(t)
				all = make([]moved, len(clips))
				each(len(clips), func(i int) {
					all[i] = apartFrom(before[clips[i].name], changedSheets(t, clips[i], c), c.shift, c.hand)
				})
			})
			return all
		})...)
	}
	return rows
}

// rows are what a change must leave as it was; of gives one comparison for each clip.
func (c change) rows(id, clips string, i int, of func(t *testing.T) []moved) []row {
	largest := func(f func(m moved) float64) func(t *testing.T) float64 {
		return func(t *testing.T) (d float64) {
			for _, m := range of(t) {
				d = max(d, f(m))
			}
			return d
		}
	}
	share := func(part, whole func(m moved) float64) func(t *testing.T) float64 {
		return func(t *testing.T) float64 {
			a, b := 0., 0.
			for _, m := range of(t) {
				a, b = a+part(m), b+whole(m)
			}
			return 100 * a / b
		}
	}
	is := func(m moved) float64 { return float64(map[bool]int{true: 1}[m.same]) }
	r := func(suffix, quantity, unit string, bound float64, got func(t *testing.T) float64) row {
		return row{id: fmt.Sprintf("%s %d%s", id, i+1, suffix), quantity: quantity, unit: unit, want: bound, below: true, source: "symmetry", seen: computed, got: got}
	}
	first := r("", clips+": same number of swings, stroke, hand", "%", 100, share(is, func(moved) float64 { return 1 }))
	first.below, first.tol = false, .1
	return []row{
		first,
		r(" contact", "the same: largest change of contact", "ms", .11, largest(func(m moved) float64 { return upward(m.contact) })),
		r(" figures", "the same: largest change of a figure in its own sd, where no random draw enters", "", .11, largest(func(m moved) float64 { return upward(m.figures) })),
		r(" drawn", "the same, largest values that random draws correct (.3 sd is the chance of 24, root mean square)", "", 1, largest(func(m moved) float64 { return m.drawn })),
		r(" known", "the same: figures that only one of the two can tell, of those that either can", "%", 2, share(func(m moved) float64 { return m.once }, func(m moved) float64 { return m.known })),
	}
}

// upward rounds up to a power of ten, at least 1e-6: what is printed then changes only
// when it matters.
func upward(d float64) float64 { return math.Pow(10, math.Ceil(math.Log10(max(d, 1e-6)))) }

// server is the service in memory, as its clients see it.
func server(t *testing.T) pb.SwingAnalysisServiceClient {
	t.Helper()
	srv, err := service.New(service.Config{})
	if err != nil {
		t.Fatal(err)
	}
	listener := bufconn.Listen(1 << 16)
	s := grpc.NewServer(srv.Options()...)
	srv.Register(s)
	go func() { _ = s.Serve(listener) }()
	conn, err := grpc.NewClient("passthrough:///checks",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()), grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(64<<20)))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(); s.Stop() })
	return pb.NewSwingAnalysisServiceClient(conn)
}

// request is a recording as a client sends it.
func (r *recording) request() *pb.AnalyzeClipRequest {
	var order body.Layout
	s := &pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_NAMED, WorldAxes: pb.WorldAxes_WORLD_AXES_LEVEL, Player: &pb.Player{}, WithTrace: true}
	for p, ok := range r.has {
		if ok {
			order, s.PointNames = append(order, body.Point(p)), append(s.PointNames, body.Point(p).String())
		}
	}
	req := &pb.AnalyzeClipRequest{Setup: s}
	frames := r.frames(0, sameVec, samePoint)
	for i := range frames {
		req.Frames = append(req.Frames, wire.AsFrame(&frames[i], order))
	}
	return req
}

// streamed is what the practice stream says of a request's frames in batches of size.
func streamed(t *testing.T, client pb.SwingAnalysisServiceClient, req *pb.AnalyzeClipRequest, size int) (out []*pb.Swing) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	stream, err := client.StreamPractice(ctx)
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		_ = stream.Send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Open_{Open: &pb.StreamPracticeRequest_Open{Setup: req.Setup}}})
		for i := 0; i < len(req.Frames); i += size {
			_ = stream.Send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{
				Frames: &pb.StreamPracticeRequest_FrameBatch{Frames: req.Frames[i:min(i+size, len(req.Frames))]}}})
		}
		_ = stream.Send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Finish_{
			Finish: &pb.StreamPracticeRequest_Finish{Frames: []uint32{uint32(len(req.Frames))}}}})
		_ = stream.CloseSend()
	}()
	for {
		m, err := stream.Recv()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		if s := m.GetSwing(); s != nil {
			out = append(out, s)
		}
	}
}

// batched are the clips that are streamed in batches: one of each kind.
var batched = []string{"tm_S02_backhand_a", "tm_S13_serve_a", "tm_S15_forehand_volley_a", "kt_S17_serve_1"}

// streamRows: the practice stream finds in any batches what the clip has, to the bit,
// and the clip what the command line printed.
func streamRows() []row {
	same := func(t *testing.T, of func(r *recording, client pb.SwingAnalysisServiceClient) (a, b []*pb.Swing)) (different float64) {
		client := server(t)
		for _, r := range singles(t) {
			for _, name := range batched {
				if r.name != name {
					continue
				}
				a, b := of(r, client)
				ok := len(a) == len(b) && len(a) > 0
				for i := range a {
					ok = ok && proto.Equal(a[i], b[i])
				}
				if !ok {
					t.Logf("%s: %d and %d swings, not the same", r.name, len(a), len(b))
					different++
				}
			}
		}
		return different
	}
	rows := []row{{id: "rec program", quantity: "clips whose swings from the service differ in any bit from those that the command line printed", want: 0, tol: .1, source: "identity", seen: computed,
		got: func(t *testing.T) float64 {
			analysed(t)
			return same(t, func(r *recording, client pb.SwingAnalysisServiceClient) (a, b []*pb.Swing) {
				res, err := client.AnalyzeClip(context.Background(), r.request())
				if err != nil {
					t.Fatal(err)
				}
				return res.Swings, analysis.raw[r.name]
			})
		}}}
	for _, size := range []int{1, 37} {
		rows = append(rows, row{id: fmt.Sprintf("rec batch %d", size), quantity: fmt.Sprintf("clips whose swings, streamed in batches of %d, differ in any bit from those of the clip", size),
			want: 0, tol: .1, source: "identity", seen: computed, got: func(t *testing.T) float64 {
				return same(t, func(r *recording, client pb.SwingAnalysisServiceClient) (a, b []*pb.Swing) {
					res, err := client.AnalyzeClip(context.Background(), r.request())
					if err != nil {
						t.Fatal(err)
					}
					return res.Swings, streamed(t, client, r.request(), size)
				})
			}})
	}
	return rows
}
