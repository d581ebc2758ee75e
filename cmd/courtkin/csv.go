package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
)

// csvFlags say what a CSV of points means.
type csvFlags struct {
	Axes string   `enum:"level,court,camera" default:"level" help:"CSV: axes of the points: level (heading and origin unknown), court or camera."`
	Up   string   `enum:"auto,x,y,z" default:"auto" help:"CSV: which axis points up; auto finds it from head and feet."`
	Unit string   `enum:"m,cm,mm" default:"m" help:"CSV: unit of the points."`
	Hz   float64  `help:"CSV: frames a second, for files without a t column."`
	Map  string   `help:"CSV: file of lines POINT = COLUMN[, COLUMN…]; several columns are averaged." type:"path"`
	Name []string `help:"CSV: the same on the command line: POINT=COLUMN[+COLUMN…]." sep:"none"`
}

// check refuses flags that cannot be meant.
func (f *csvFlags) check() error {
	if f.Hz < 0 || f.Hz > 1000 || math.IsNaN(f.Hz) {
		return usage("--hz %g: must be above 0 and at most 1000", f.Hz)
	}
	if f.Axes != "level" && f.Up != "auto" && f.Up != "y" {
		return usage("--up %s: %s axes say themselves what is up", f.Up, f.Axes)
	}
	_, err := f.mapping()
	return err
}

// mapping is which columns stand for a point: the mean of all that are there.
type mapping map[string][]string

// mapping returns the built-in mapping with the user's put over it.
func (f *csvFlags) mapping() (mapping, error) {
	m := builtIn()
	lines := []string{}
	if f.Map != "" {
		raw, err := os.ReadFile(f.Map)
		if err != nil {
			return nil, usage("--map %s: %w", f.Map, plain(err))
		}
		lines = strings.Split(string(raw), "\n")
	}
	for _, n := range f.Name {
		lines = append(lines, strings.ReplaceAll(n, "+", ","))
	}
	for _, line := range lines {
		if line, _, _ = strings.Cut(line, "#"); strings.TrimSpace(line) == "" {
			continue
		}
		if err := m.line(line); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// line reads "POINT = COLUMN, COLUMN".
func (m mapping) line(line string) error {
	point, columns, ok := strings.Cut(line, "=")
	point = strings.TrimSpace(point)
	if !ok || !knownPoint(point) {
		return usage("mapping %q: must be POINT = COLUMN[, COLUMN…] with a point that is known", strings.TrimSpace(line))
	}
	m[point] = nil
	for c := range strings.SplitSeq(columns, ",") {
		m[point] = append(m[point], strings.TrimSpace(c))
	}
	return nil
}

func knownPoint(name string) bool { return slices.Contains(pointNames(), name) }

// pointNames are all points that a CSV may give, body points first.
func pointNames() []string {
	var all []string
	for p := range body.NumPoints {
		all = append(all, p.String())
	}
	return all
}

// markers ties points to the labels of a common full-body set of skin markers;
// where several surround a joint, their mean stands for it.
var markers = map[string][]string{
	"left_ear": {"lfhd", "lbhd"}, "right_ear": {"rfhd", "rbhd"}, "neck": {"c7", "clav"}, "chest": {"strn", "t10"},
	"left_shoulder": {"lsho"}, "right_shoulder": {"rsho"}, "left_elbow": {"lelb"}, "right_elbow": {"relb"},
	"left_wrist": {"lwra", "lwrb"}, "right_wrist": {"rwra", "rwrb"}, "left_hand": {"lfin"}, "right_hand": {"rfin"},
	"left_hip": {"lasi", "lpsi"}, "right_hip": {"rasi", "rpsi"}, "left_knee": {"lkne"}, "right_knee": {"rkne"},
	"left_ankle": {"lank"}, "right_ankle": {"rank"}, "left_heel": {"lhee"}, "right_heel": {"rhee"},
	"left_toe": {"ltoe"}, "right_toe": {"rtoe"},
}

// builtIn knows the points' own names, l_ and r_ for left_ and right_, a few
// other common names, and skin markers with or without mk_ before them. The
// first of a point's spellings that a file has is taken.
func builtIn() mapping {
	m := mapping{}
	for _, p := range pointNames() {
		m[p] = []string{p}
	}
	return m
}

// spellings lists what a point may be called, each a list of columns to average.
func (m mapping) spellings(point string) [][]string {
	own := m[point]
	if len(own) != 1 || own[0] != point {
		return [][]string{own} // the user's word
	}
	all := [][]string{own}
	if s, ok := strings.CutPrefix(point, "left_"); ok {
		all = append(all, []string{"l_" + s}, []string{"l" + s})
	}
	if s, ok := strings.CutPrefix(point, "right_"); ok {
		all = append(all, []string{"r_" + s}, []string{"r" + s})
	}
	if point == "mid_hip" {
		all = append(all, []string{"pelvis"}, []string{"midhip"})
	}
	if mk := markers[point]; mk != nil {
		with := make([]string, len(mk))
		for i, name := range mk {
			with[i] = "mk_" + name
		}
		all = append(all, with, mk)
	}
	return all
}

// source is a point of the file: the first columns of the x's to average.
type source struct {
	point string
	at    [][3]int
}

// parseCSV reads t and NAME_x, NAME_y, NAME_z columns. Empty cells are points
// that were not seen.
func (f *csvFlags) parseCSV(raw []byte) (*pb.AnalyzeClipRequest, error) {
	rows := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(raw, []byte("\ufeff"))))
	rows.ReuseRecord, rows.TrimLeadingSpace = true, true
	head, err := rows.Read()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("is empty")
	}
	if err != nil {
		return nil, csvError(err)
	}
	table, err := f.columns(slices.Clone(head))
	if err != nil {
		return nil, err
	}
	for {
		row, err := rows.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, csvError(err)
		}
		if err := table.add(row); err != nil {
			line, _ := rows.FieldPos(0)
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
	}
	return table.request(f)
}

func csvError(err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return fmt.Errorf("line %d: %w", p.Line, p.Err)
	}
	return err
}

// table is a CSV on its way to a request.
type table struct {
	timeColumn int // −1: none
	hz         float64
	scale      float64 // metres in a unit
	body       []source
	racket     []source // tip, throat, butt, left, right as far as they are there
	ball       []source
	frames     []*pb.Frame
}

// columns finds time and points in the head.
func (f *csvFlags) columns(head []string) (*table, error) {
	at := map[string]int{}
	for i, name := range head {
		at[strings.ToLower(strings.TrimSpace(name))] = i
	}
	t := &table{timeColumn: -1, hz: f.Hz, scale: map[string]float64{"m": 1, "cm": 0.01, "mm": 0.001}[f.Unit]}
	for _, name := range []string{"t", "time", "time_s"} {
		if i, ok := at[name]; ok && t.timeColumn < 0 && f.Hz == 0 {
			t.timeColumn = i
		}
	}
	if t.timeColumn < 0 && f.Hz == 0 {
		return nil, errors.New("has no column t; give --hz")
	}
	m, err := f.mapping()
	if err != nil {
		return nil, err
	}
	t.points(m, at)
	if len(t.body) == 0 {
		return nil, errors.New("has no columns NAME_x, NAME_y, NAME_z of a known body point; see --map")
	}
	return t, nil
}

// points finds the columns of every point.
func (t *table) points(m mapping, at map[string]int) {
	gap := false
	for i, name := range pointNames() {
		s, ok := find(name, m, at)
		switch p := body.Point(i); {
		case p == body.Ball && ok:
			t.ball = []source{s}
		case p.IsRacket():
			// Points of a racket are told by their place: the list stops at the first gap.
			if gap = gap || !ok; !gap {
				t.racket = append(t.racket, s)
			}
		case ok:
			t.body = append(t.body, s)
		}
	}
}

// find looks a point up under all its spellings.
func find(point string, m mapping, at map[string]int) (source, bool) {
	for _, names := range m.spellings(point) {
		s := source{point: point}
		for _, name := range names {
			name = strings.ToLower(name)
			x, okX := at[name+"_x"]
			y, okY := at[name+"_y"]
			z, okZ := at[name+"_z"]
			if okX && okY && okZ {
				s.at = append(s.at, [3]int{x, y, z})
			}
		}
		if len(s.at) > 0 {
			return s, true
		}
	}
	return source{}, false
}

// add turns a row into a frame.
func (t *table) add(row []string) error {
	n := len(t.frames)
	f := &pb.Frame{Index: uint32(n)}
	switch {
	case t.timeColumn >= 0:
		s, err := number(row[t.timeColumn])
		if err != nil {
			return err
		}
		if !(math.Abs(s) < 1e9) {
			return fmt.Errorf("t: %g is no time in seconds", s)
		}
		f.TimeUs = int64(math.Round(s * 1e6))
	default:
		f.TimeUs = int64(math.Round(float64(n) / t.hz * 1e6))
	}
	for _, part := range []struct {
		list *[]float32
		from []source
	}{{&f.World, t.body}, {&f.RacketWorld, t.racket}, {&f.BallWorld, t.ball}} {
		for _, s := range part.from {
			p, err := s.read(row, t.scale)
			if err != nil {
				return err
			}
			*part.list = append(*part.list, p[:]...)
		}
	}
	t.frames = append(t.frames, f)
	return nil
}

// read returns x, y, z, score: the mean of the source's columns, score 0 when
// a cell is empty.
func (s source) read(row []string, scale float64) ([4]float32, error) {
	var sum [3]float64
	n := 0.
	for _, at := range s.at {
		if row[at[0]] == "" || row[at[1]] == "" || row[at[2]] == "" {
			continue
		}
		for k := range 3 {
			v, err := number(row[at[k]])
			if err != nil {
				return [4]float32{}, fmt.Errorf("%s: %w", s.point, err)
			}
			sum[k] += v
		}
		n++
	}
	if n == 0 {
		return [4]float32{}, nil
	}
	k := scale / n
	return [4]float32{float32(k * sum[0]), float32(k * sum[1]), float32(k * sum[2]), 1}, nil
}

func number(s string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		return 0, fmt.Errorf("%q is no number", s)
	}
	return v, nil
}

// request makes the request of all rows.
func (t *table) request(f *csvFlags) (*pb.AnalyzeClipRequest, error) {
	setup := &pb.Setup{
		Layout:    pb.PointLayout_POINT_LAYOUT_NAMED,
		WorldAxes: pb.WorldAxes(pb.WorldAxes_value["WORLD_AXES_"+strings.ToUpper(f.Axes)]),
	}
	for _, s := range t.body {
		setup.PointNames = append(setup.PointNames, s.point)
	}
	if f.Axes == "level" && len(t.frames) > 0 {
		up, err := t.upAxis(f.Up)
		if err != nil {
			return nil, err
		}
		t.turn(up)
	}
	return &pb.AnalyzeClipRequest{Setup: setup, Frames: t.frames}, nil
}

// upAxis returns the index of the axis that points up: the one along which the
// upper body lies furthest above the legs.
func (t *table) upAxis(flag string) (int, error) {
	if flag != "auto" {
		return strings.Index("xyz", flag), nil
	}
	var high, low [3]float64
	var nHigh, nLow float64
	for _, f := range t.frames {
		for i, s := range t.body {
			p := f.World[4*i : 4*i+4]
			switch {
			case p[3] == 0:
			case upper(s.point):
				nHigh++
				addTo(&high, p)
			case lower(s.point):
				nLow++
				addTo(&low, p)
			}
		}
	}
	if nHigh == 0 || nLow == 0 {
		return 0, errors.New("--up auto needs points of head or shoulders and of the legs; give --up")
	}
	best, most := -1, 0.
	for k := range 3 {
		if d := high[k]/nHigh - low[k]/nLow; d > most {
			best, most = k, d
		}
	}
	if best < 0 {
		return 0, errors.New("no axis points up; give --up")
	}
	return best, nil
}

func addTo(sum *[3]float64, p []float32) {
	for k := range sum {
		sum[k] += float64(p[k])
	}
}

func upper(point string) bool {
	return strings.HasSuffix(point, "shoulder") || strings.HasPrefix(point, "head") || point == "neck" || point == "nose"
}

func lower(point string) bool {
	return strings.HasSuffix(point, "ankle") || strings.HasSuffix(point, "knee")
}

// turn puts the up axis onto Y; the order of the other two is kept, so that
// the axes stay right-handed.
func (t *table) turn(up int) {
	for _, f := range t.frames {
		for _, list := range [][]float32{f.World, f.RacketWorld, f.BallWorld} {
			for i := 0; i < len(list); i += 4 {
				x, y, z := list[i], list[i+1], list[i+2]
				switch up {
				case 0:
					list[i], list[i+1], list[i+2] = y, x, -z
				case 2:
					list[i], list[i+1], list[i+2] = x, z, -y
				}
				_ = y
			}
		}
	}
}
