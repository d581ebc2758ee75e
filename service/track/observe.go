package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// observe turns the frames into sights: of world points where there are any in
// level axes, else of image points through the cameras' poses, helped by world
// points in camera axes where the estimator gives them.
func (m *scene) observe() error {
	switch {
	case m.hasWorld() && m.w.Axes != camera.AxesCamera && m.w.Axes != camera.AxesUnknown:
		m.collect()
		m.method = "world"
		m.onCourt = m.w.Axes == camera.AxesCourt
		return nil
	case m.hasWorld():
		return m.observeOne()
	}
	return m.observeMany()
}

func (m *scene) hasWorld() bool {
	for i := range m.w.Frames {
		f := &m.w.Frames[i]
		if f.World[body.LeftShoulder].Score > 0 || f.World[body.RightShoulder].Score > 0 {
			return true
		}
	}
	return false
}

// framesOf returns copies of one camera's frames with real times.
func (m *scene) framesOf(cam uint8) (out []body.Frame) {
	out = make([]body.Frame, 0, len(m.w.Frames))
	for i := range m.w.Frames {
		if f := m.w.Frames[i]; f.Camera == cam {
			f.TimeUS = m.t0 + int64(math.Round(m.time(i)*1e6))
			out = append(out, f)
		}
	}
	return out
}

// observeMany sees the motion by image points alone.
func (m *scene) observeMany() error {
	rig, ok := m.courtRig()
	if !ok || len(rig.Eyes) < 2 {
		return m.observeImage()
	}
	m.method, m.onCourt = "two_view", true
	m.rig = rig
	m.stretch = m.shared(rig)
	m.collectImages(rig)
	for p := range m.sights {
		m.crossings[p] = m.crossed(m.sights[p])
	}
	return nil
}

// Court is what a camera's court marks say of its pose.
type Court struct {
	Pose camera.Pose
	Err  error // too few marks, or such that contradict each other
}

// SeeCourt finds the cameras' poses by their court marks, once for all windows.
func SeeCourt(cameras []camera.Camera) []Court {
	out := make([]Court, len(cameras))
	for i := range cameras {
		out[i].Pose, out[i].Err = camera.Solve(cameras[i])
	}
	return out
}

// court is the pose of a camera by its court marks.
func (m *scene) court(i int) (camera.Pose, error) {
	if i < len(m.w.Courts) {
		return m.w.Courts[i].Pose, m.w.Courts[i].Err
	}
	var cam camera.Camera
	if i < len(m.w.Cameras) {
		cam = m.w.Cameras[i]
	}
	return camera.Solve(cam)
}

// clockReach is how far apart two cameras' clocks are sought, seconds.
const clockReach = 0.35

// courtRig solves the poses of the cameras that see court marks, and the
// offsets of their clocks from camera 0's.
func (m *scene) courtRig() (*Rig, bool) {
	rig := &Rig{}
	for i, c := range m.w.Cameras {
		p, err := m.court(i)
		if err != nil {
			return nil, false
		}
		rig.Eyes = append(rig.Eyes, p)
		rig.Offset = append(rig.Offset, c.ClockOffset)
	}
	if len(rig.Eyes) == 0 {
		return nil, false
	}
	for i := 1; i < len(rig.Eyes); i++ {
		if m.w.Cameras[i].HasClockOffset {
			continue
		}
		fit, err := m.clockFit(i, [2]camera.Pose{rig.Eyes[0], rig.Eyes[i]})
		if err != nil {
			return nil, false
		}
		rig.Offset[i] = fit.Offset
		rig.OffsetSD = math.Max(rig.OffsetSD, fit.SD)
		rig.Eyes[0], rig.Eyes[i] = fit.Poses[0], fit.Poses[1]
	}
	return rig, true
}

// clockFit is how far a camera's clock is off that of camera 0, as it was found before or
// as the frames show it.
func (m *scene) clockFit(i int, poses [2]camera.Pose) (camera.ClockFit, error) {
	if i < len(m.w.Clocks) && m.w.Clocks[i] != nil {
		return *m.w.Clocks[i], nil
	}
	return camera.ClockOffset(poses, [2][]body.Frame{m.framesOf(0), m.framesOf(uint8(i))}, clockReach)
}

// observeOne sees the motion by one camera's image, with world points in its
// axes for the depth.
func (m *scene) observeOne() error {
	frames := m.framesOf(0)
	var cam camera.Camera
	if len(m.w.Cameras) > 0 {
		cam = m.w.Cameras[0]
	}
	eye, hips, err := m.placeEye(cam, frames)
	if err != nil {
		return err
	}
	m.method = "one_view"
	m.rig = &Rig{Eyes: []camera.Pose{eye}, Offset: []float64{0}}
	m.collectImages(m.rig)
	m.measureNoise()
	if len(hips) >= 8 && m.lift(&m.rig.Eyes[0], hips[len(hips)/2].InCamera.Z, append(m.worldDepths(frames), m.hipDepths(hips)...)) {
		return nil
	}
	m.collectDepths(frames, hips)
	return nil
}

// placeEye finds the camera: by court marks where enough are seen, else by the body.
func (m *scene) placeEye(cam camera.Camera, frames []body.Frame) (camera.Pose, []camera.HipFix, error) {
	upright := camera.Upright(frames)
	if pose, err := m.court(0); err == nil {
		m.onCourt = true
		known := cam
		known.Focal = pose.Focal
		if loc, err := camera.Locate(known, frames, upright, cam.View); err == nil {
			return pose, loc.Hips, nil
		}
	}
	loc, err := camera.Locate(cam, frames, upright, cam.View)
	if err != nil {
		return camera.Pose{}, nil, err
	}
	m.upright = math.Max(float64(loc.Gravity.PitchSD), float64(loc.Gravity.RollSD))
	return loc.Pose, loc.Hips, nil
}

// collectDepths takes each world point's distance along the camera's axis as a
// sight, once the mid-hip's own course has been smoothed; and each world point's
// place as a start.
func (m *scene) collectDepths(frames []body.Frame, hips []camera.HipFix) {
	eye := &m.rig.Eyes[0]
	hip := m.hipCourse(hips)
	if hip == nil {
		return
	}
	back, forward := eye.R.T(), eye.Forward()
	center := eye.Center()
	for i := range frames {
		t := float64(frames[i].TimeUS-m.t0) * 1e-6
		at := hip(t)
		for p := range body.Point(body.NumBody) {
			s := frames[i].World[p]
			if s.Score <= 0 {
				continue
			}
			c := at.Add(place3(s)) // camera axes
			m.sights[p] = append(m.sights[p], sight{kind: reach, t: t, dir: forward,
				p: geom.Vec3{X: c.Z + forward.Dot(center)}, sd: 0.045, w: 1})
			m.crossings[p] = append(m.crossings[p], sight{kind: place, t: t, p: back.Apply(c.Sub(eye.T)), sd: 0.04, w: 1})
		}
	}
	for p := range m.sights {
		m.sortByTime(m.sights[p])
	}
}

// hipRough is how the mid-hip of a player moves: a body's mass does not jerk.
var hipRough = rough{level: 3e3, width: 1, floor: 1, jump: 0.1}

// hipCourse smooths where the middle of the hips was, in camera axes.
func (m *scene) hipCourse(hips []camera.HipFix) func(t float64) geom.Vec3 {
	if len(hips) < 8 {
		return nil
	}
	t0 := float64(m.t0) * 1e-6
	var across, depth []sight
	for _, h := range hips {
		s := sight{kind: place, t: h.Time - t0, p: h.InCamera, w: 1}
		s.sd = math.Max(0.005, math.Max(h.SD.X, h.SD.Y))
		across = append(across, s)
		s.sd = math.Max(0.02, h.SD.Z)
		depth = append(depth, s)
	}
	end := m.end()
	g := newGrid(solveSteps, -0.02, end/2, end+0.02)
	a, ok1 := smoothPoint(g, across, hipRough, 2, nil)
	d, ok2 := smoothPoint(g, depth, hipRough, 2, nil)
	if !ok1 || !ok2 {
		return nil
	}
	return func(t float64) geom.Vec3 {
		p := a.at(t)
		p.Z = d.at(t).Z
		return p
	}
}

// observeImage sees the motion by one camera's image points alone.
func (m *scene) observeImage() error { return m.liftImage() }
