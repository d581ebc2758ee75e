package webtest

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
	"time"

	"github.com/chromedp/chromedp"

	"example.com/courtkin/gateway/web"
)

// madePose stands in for the estimator's package: it sees a person who stands
// in the middle of the picture and sways, in every picture.
const madePose = `
window.Pose = class {
	constructor(o) { this.file = o.locateFile("pose_web.binarypb"); }
	setOptions(o) { if (o.smoothLandmarks !== false) throw new Error("smoothed"); }
	onResults(f) { this.f = f; }
	async initialize() { if (this.file !== "addon/pose/pose_web.binarypb") throw new Error(this.file); }
	async close() {}
	async send({image}) {
		if (!(image instanceof HTMLVideoElement) || !image.videoWidth) throw new Error("no picture");
		const sway = 0.01 * Math.sin(performance.now() / 300);
		const at = (i) => i < 11 ? [0, -0.62] : i < 13 ? [i % 2 ? 0.18 : -0.18, -0.45] : i < 15 ? [i % 2 ? 0.3 : -0.3, -0.2] : i < 23 ? [i % 2 ? 0.35 : -0.35, 0.02]
			: i < 25 ? [i % 2 ? 0.1 : -0.1, 0] : i < 27 ? [i % 2 ? 0.12 : -0.12, 0.42] : [i % 2 ? 0.14 : -0.14, 0.85];
		const world = Array.from({length: 33}, (_, i) => ({x: at(i)[0] + sway, y: at(i)[1], z: 0.02 * (i % 3), visibility: 0.95}));
		const seen = world.map(p => ({x: 0.5 + p.x / 4, y: 0.45 + p.y / 2.4, z: 0, visibility: p.visibility}));
		this.f({poseLandmarks: seen, poseWorldLandmarks: world});
	}
};`

// fakeCamera are the flags of a camera that plays a file, or Chromium's own
// pattern when there is none.
func fakeCamera(film string) []chromedp.ExecAllocatorOption {
	flags := []chromedp.ExecAllocatorOption{
		chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-fake-device-for-media-stream", true),
	}
	if film != "" {
		flags = append(flags, chromedp.Flag("use-file-for-fake-video-capture", film))
	}
	return flags
}

// spy has the page keep what it streams.
const spy = `(() => {
	window.streamed = [];
	const send = WebSocket.prototype.send;
	WebSocket.prototype.send = function (text) { window.streamed.push(JSON.parse(text)); return send.call(this, text); };
})()`

const streamedFrames = "window.streamed.flatMap(m => m.frames?.frames ?? [])"

// TestCamera goes from the camera to streamed points with a made estimator.
func TestCamera(t *testing.T) {
	s := serve(t, web.Files(), fstest.MapFS{"pose.js": {Data: []byte(madePose)}})
	b := browser(t, fakeCamera("")...).open(t, s.URL, phone)
	b.do(chromedp.Evaluate[chromedp.Void](spy), chromedp.Evaluate[chromedp.Void](`(() => {
		window.awake = "";
		navigator.wakeLock.request = async (kind) => { window.awake = kind; return {release: async () => { window.awake = "released"; }}; };
	})()`))
	b.click("#camera")
	b.wait("document.querySelector('#camera-cost').textContent.includes('no racket-tip speed, no lag')")
	b.click("#camera-open")
	b.wait("document.querySelector('#camera-seen').textContent.startsWith('Player seen')")
	b.shot("camera-phone")
	b.do(chromedp.Evaluate[chromedp.Void]("document.querySelector('#player-stature').value = '176'"))
	time.Sleep(1500 * time.Millisecond) // of frames, for the check
	b.click("#camera-check")
	b.wait("document.querySelectorAll('#camera-result summary').length === 3")
	b.do(chromedp.ScrollIntoView(chromedp.CSS("#camera-result")))
	b.shot("camera-phone-check")
	if out := value[string](b, "document.querySelector('#camera-result details:last-of-type').textContent"); out == "" {
		t.Error("nothing is said to be out of reach without a racket")
	}
	b.click("#camera-start")
	b.wait(streamedFrames + ".length >= 20")
	if got := value[string](b, "window.awake"); got != "screen" {
		t.Errorf("the screen is not kept awake: %q", got)
	}
	if bad := value[string](b, `(() => {
		const open = window.streamed[0].open, frames = `+streamedFrames+`;
		if (open.setup.layout !== "POINT_LAYOUT_BLAZEPOSE_33" || open.setup.player.statureM !== 1.76) return "setup: " + JSON.stringify(open.setup);
		for (let i = 0; i < frames.length; i++) {
			const f = frames[i];
			if (f.index !== i) return "index " + f.index + " at " + i;
			if (f.image.length !== 99 || f.world.length !== 132) return "points: " + f.image.length + ", " + f.world.length;
			if (!Number.isInteger(f.timeUs)) return "time " + f.timeUs;
			if (i && f.timeUs <= frames[i - 1].timeUs) return "times do not rise at " + i;
		}
		const rate = 1e6 * (frames.length - 1) / (frames.at(-1).timeUs - frames[0].timeUs);
		return rate > 3 && rate < 70 ? "" : "rate " + rate;
	})()`); bad != "" {
		t.Error(bad)
	}
	b.click("#camera-close")
	b.wait("document.querySelector('#place-try').dataset.state === 'finished'")
	b.wait("document.querySelector('#camera-video').srcObject === null")
	b.wait("window.awake === 'released'")
	b.quiet(s.URL)
}

// TestCameraWithoutAddOn: the page says what is missing and how to get it.
func TestCameraWithoutAddOn(t *testing.T) {
	s := serve(t, web.Files(), nil)
	b := browser(t, fakeCamera("")...).open(t, s.URL, phone)
	b.click("#camera")
	b.wait("!document.querySelector('#camera-absent').hidden")
	b.wait("document.querySelector('#camera-open').disabled")
	narrow(b, phone)
}

// addOnFolder holds the real estimator where somebody has installed it.
const addOnFolder = "../web/addon/node_modules/@mediapipe/pose"

// TestRealEstimator films a drawn person with the fake camera and lets the real
// estimator find him. It is left out where the add-on is not installed.
func TestRealEstimator(t *testing.T) {
	if _, err := os.Stat(filepath.Join(addOnFolder, "pose.js")); err != nil {
		t.Skip("the pose add-on is not installed: npm ci --prefix gateway/web/addon")
	}
	film := filepath.Join(t.TempDir(), "person.y4m")
	if err := os.WriteFile(film, drawnFilm(20), 0o600); err != nil {
		t.Fatal(err)
	}
	s := serve(t, web.Files(), os.DirFS(addOnFolder))
	b := browser(t, fakeCamera(film)...).open(t, s.URL, phone)
	b.do(chromedp.Evaluate[chromedp.Void](spy))
	b.click("#camera")
	b.wait("!document.querySelector('#camera-open').disabled")
	b.click("#camera-open")
	b.wait("document.querySelector('#camera-seen').textContent.startsWith('Player seen')")
	b.shot("camera-phone-real")
	b.click("#camera-start")
	b.wait(streamedFrames + ".length >= 8")
	// Shoulders, wrists and ankles of the newest picture against the drawing.
	for name, place := range map[string]struct {
		index int
		want  image.Point
	}{"left shoulder": {11, joint("left_shoulder")}, "right wrist": {16, joint("right_wrist")}, "left ankle": {27, joint("left_ankle")}} {
		got := value[[]float64](b, fmt.Sprintf("%s.at(-1).image.slice(%d, %d)", streamedFrames, 3*place.index, 3*place.index+2))
		if d := math.Hypot(got[0]-float64(place.want.X), got[1]-float64(place.want.Y)); d > 25 {
			t.Errorf("%s found at %v, drawn at %v", name, got, place.want)
		}
	}
	b.atHome(s.URL) // the estimator itself is talkative
}

const filmWidth, filmHeight = 640, 360

// skeleton is the drawn person, px: facing the camera, so that his left is on
// the right of the picture.
var skeleton = map[string]image.Point{
	"head": {320, 62}, "neck": {320, 98},
	"left_shoulder": {354, 112}, "left_elbow": {376, 160}, "left_wrist": {390, 204}, "left_hip": {340, 200}, "left_knee": {346, 262}, "left_ankle": {350, 322},
	"right_shoulder": {286, 112}, "right_elbow": {262, 158}, "right_wrist": {240, 198}, "right_hip": {300, 200}, "right_knee": {294, 262}, "right_ankle": {290, 322},
}

func joint(name string) image.Point { return skeleton[name] }

// drawnFilm is a film of the person, as YUV4MPEG2 at ten pictures a second.
func drawnFilm(pictures int) []byte {
	var film bytes.Buffer
	fmt.Fprintf(&film, "YUV4MPEG2 W%d H%d F10:1 Ip A1:1 C420jpeg\n", filmWidth, filmHeight)
	picture := image.NewRGBA(image.Rect(0, 0, filmWidth, filmHeight))
	paint(picture)
	planes := yuv(picture)
	for range pictures {
		film.WriteString("FRAME\n")
		film.Write(planes)
	}
	return film.Bytes()
}

// paint draws court, limbs as shaded capsules, and a head with a face.
func paint(m *image.RGBA) {
	for y := range filmHeight {
		for x := range filmWidth {
			c := color.RGBA{196, 214, 226, 255}
			if y > 230 {
				c = color.RGBA{72, 118, 98, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	skin, shirt, shorts, shoe := color.RGBA{214, 164, 130, 255}, color.RGBA{236, 236, 240, 255}, color.RGBA{40, 52, 96, 255}, color.RGBA{250, 250, 250, 255}
	at := joint
	for _, side := range []string{"left_", "right_"} {
		capsule(m, at(side+"hip"), at(side+"knee"), 17, shorts)
		capsule(m, at(side+"knee"), at(side+"ankle"), 11, skin)
		foot := at(side + "ankle").Add(image.Pt(4, 10))
		capsule(m, at(side+"ankle").Add(image.Pt(0, 8)), foot, 9, shoe)
	}
	for d := -22; d <= 22; d += 4 {
		capsule(m, image.Pt(320+d, 118), image.Pt(320+d*3/4, 196), 14, shirt)
	}
	capsule(m, at("left_shoulder"), at("right_shoulder"), 13, shirt)
	for _, side := range []string{"left_", "right_"} {
		capsule(m, at(side+"shoulder"), at(side+"elbow"), 11, shirt)
		capsule(m, at(side+"elbow"), at(side+"wrist"), 8, skin)
		hand := at(side + "wrist").Add(at(side + "wrist").Sub(at(side + "elbow")).Div(4))
		capsule(m, at(side+"wrist"), hand, 8, skin)
	}
	capsule(m, at("neck"), at("head"), 9, skin)
	capsule(m, image.Pt(320, 56), image.Pt(320, 68), 20, skin)
	capsule(m, image.Pt(306, 42), image.Pt(334, 42), 9, color.RGBA{60, 40, 30, 255})
	for _, x := range []int{312, 328} {
		capsule(m, image.Pt(x-1, 60), image.Pt(x+1, 60), 2, color.RGBA{30, 24, 24, 255})
	}
	capsule(m, image.Pt(320, 66), image.Pt(320, 70), 2, color.RGBA{180, 120, 96, 255})
	capsule(m, image.Pt(315, 77), image.Pt(325, 77), 2, color.RGBA{150, 60, 60, 255})
}

// capsule draws a thick line with round ends, darker toward its edge.
func capsule(m *image.RGBA, a, b image.Point, r float64, c color.RGBA) {
	pad := int(r) + 1
	box := image.Rectangle{Min: a, Max: a}.Union(image.Rect(a.X, a.Y, a.X+1, a.Y+1)).Union(image.Rect(b.X, b.Y, b.X+1, b.Y+1)).Inset(-pad).Intersect(m.Bounds())
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	length := dx*dx + dy*dy
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			px, py := float64(x-a.X), float64(y-a.Y)
			w := 0.
			if length > 0 {
				w = min(1, max(0, (px*dx+py*dy)/length))
			}
			d := math.Hypot(px-w*dx, py-w*dy) / r
			if d > 1 {
				continue
			}
			shade := 1 - 0.4*d*d
			m.SetRGBA(x, y, color.RGBA{uint8(float64(c.R) * shade), uint8(float64(c.G) * shade), uint8(float64(c.B) * shade), 255})
		}
	}
}

// yuv turns a picture into planes of 4:2:0.
func yuv(m *image.RGBA) []byte {
	planes := make([]byte, 0, filmWidth*filmHeight*3/2)
	for y := range filmHeight {
		for x := range filmWidth {
			c := m.RGBAAt(x, y)
			l, _, _ := color.RGBToYCbCr(c.R, c.G, c.B)
			planes = append(planes, l)
		}
	}
	for _, second := range []bool{false, true} {
		for y := 0; y < filmHeight; y += 2 {
			for x := 0; x < filmWidth; x += 2 {
				c := m.RGBAAt(x, y)
				_, cb, cr := color.RGBToYCbCr(c.R, c.G, c.B)
				if second {
					cb = cr
				}
				planes = append(planes, cb)
			}
		}
	}
	return planes
}
