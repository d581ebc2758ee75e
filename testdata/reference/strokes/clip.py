"""What cameras and trackers make of a session: clips as the contract's NDJSON.

Noise is drawn from Student's t with five degrees of freedom, in half of the clips
also correlated from frame to frame (AR(1)); its sd is what the condition says.
Scores say nothing: they are drawn at random.
"""
import json

import numpy as np

from body import unit

COCO = """nose left_eye right_eye left_ear right_ear left_shoulder right_shoulder left_elbow right_elbow
left_wrist right_wrist left_hip right_hip left_knee right_knee left_ankle right_ankle""".split()
BLAZE = """nose left_eye left_eye left_eye right_eye right_eye right_eye left_ear right_ear left_mouth right_mouth
left_shoulder right_shoulder left_elbow right_elbow left_wrist right_wrist left_fist right_fist left_fist right_fist
left_fist right_fist left_hip right_hip left_knee right_knee left_ankle right_ankle left_heel right_heel left_toe right_toe""".split()
BODY25 = """nose neck right_shoulder right_elbow right_wrist left_shoulder left_elbow left_wrist mid_hip right_hip right_knee
right_ankle left_hip left_knee left_ankle right_eye left_eye right_ear left_ear left_toe left_toe left_heel right_toe
right_toe right_heel""".split()
LAYOUTS = {"POINT_LAYOUT_COCO_17": COCO, "POINT_LAYOUT_BLAZEPOSE_33": BLAZE, "POINT_LAYOUT_BODY_25": BODY25}
RACKET = ["racket_tip", "racket_throat", "racket_butt"]

NET, HALF, SINGLES, DOUBLES, SERVICE = 11.885, .914, 4.115, 5.485, 6.40
VIEWS = {1: np.pi, 2: 0.0, 3: np.pi / 2, 4: -np.pi / 2}  # where the camera stands, from X toward Z


def court_marks():
    """The contract's 22 marks in court axes."""
    line = lambda x, zs: [(x, 0, z) for z in zs]
    near = line(0, (-DOUBLES, -SINGLES, 0, SINGLES, DOUBLES)) + line(NET - SERVICE, (-SINGLES, 0, SINGLES))
    post = DOUBLES + HALF
    net = [(NET, 0, -post), (NET, 1.07, -post), (NET, 0, 0), (NET, .914, 0), (NET, 0, post), (NET, 1.07, post)]
    far = line(NET + SERVICE, (-SINGLES, 0, SINGLES)) + line(2 * NET, (-DOUBLES, -SINGLES, 0, SINGLES, DOUBLES))
    return np.array(near + net + far)


class Camera:
    def __init__(self, at, target, focal):
        z = unit(target - at)
        x = unit(np.cross(z, [0, 1, 0]))
        self.r, self.at, self.focal = np.stack([x, np.cross(z, x), z]), at, focal

    def turned(self, v):
        return v @ self.r.T

    def image(self, p):
        c = (p - self.at) @ self.r.T
        px = np.stack([960 + self.focal * c[..., 0] / c[..., 2], 540 + self.focal * c[..., 1] / c[..., 2]], -1)
        ok = (c[..., 2] > .5) & (px[..., 0] > 0) & (px[..., 0] < 1920) & (px[..., 1] > 0) & (px[..., 1] < 1080)
        return px, ok

    def marks(self, rng):
        px, ok = self.image(court_marks())
        return [dict(mark=int(i + 1), x_px=px[i, 0] + rng.normal(), y_px=px[i, 1] + rng.normal()) for i in np.flatnonzero(ok)]


class Tracker:
    """Noise and faults of one clip."""

    def __init__(self, rng):
        self.rng = rng
        self.memory = rng.uniform(.2, .7) if rng.random() < .5 else 0.0

    def noise(self, n, k, sds):
        e = self.rng.standard_t(5, (n, k, len(sds))) * np.sqrt(3 / 5) * np.array(sds)
        for i in range(1, n):
            e[i] = self.memory * e[i - 1] + np.sqrt(1 - self.memory ** 2) * e[i]
        return e

    def flaws(self, x, sds, gross):
        """Seen points with noise and outliers, (n, k, d)."""
        y = x + self.noise(x.shape[0], x.shape[1], sds)
        wild = self.rng.random(x.shape[:2]) < .005
        way = unit(self.rng.standard_normal(y.shape)) * self.rng.uniform(*gross, x.shape[:2])[..., None]
        return np.where(wild[..., None], y + way, y)

    def lost(self, n, k):
        return self.rng.random((n, k)) < .05


def flat(x, seen, rng):
    """x, y(, z), score for each point; unseen ones are zeros."""
    out = []
    for p, s in zip(x, seen):
        out += [round(float(c), 4) for c in p] + [round(rng.uniform(.2, 1), 2)] if s else [0] * (len(p) + 1)
    return out


class Clip:
    """Frames of a session under a condition. sim gives the (mirrored) motion."""

    def __init__(self, sim, condition, rng):
        self.sim, self.condition, self.rng = sim, condition, rng
        self.t0 = rng.uniform(0, 50)  # the clip's clock need not start at zero
        self.factor = 1.0
        names = list(LAYOUTS)
        self.layout = names[rng.choice(3, p=[.6, .25, .15])]
        self.tracker = Tracker(rng)
        self.frames, self.cameras = [], []
        getattr(self, "_" + condition)()
        self.frames.sort(key=lambda f: f["time_us"])
        self.setup = self._setup()

    def _setup(self):
        s = self.sim
        out = dict(layout=self.layout, player=dict(stature_m=round(s.stature, 3)), racket=dict(length_m=s.build.racket))
        if self.rng.random() < .5:
            out["player"]["dominant_hand"] = "HAND_LEFT" if s.left else "HAND_RIGHT"
        if self.cameras:
            out["cameras"] = self.cameras
        if self.condition in "PBS":
            out["world_axes"] = "WORLD_AXES_CAMERA"
        elif self.condition == "W":
            out["world_axes"] = "WORLD_AXES_COURT"
        return out

    def write(self, path):
        with open(path, "w") as f:
            f.write(json.dumps(dict(setup=self.setup)) + "\n")
            for frame in self.frames:
                f.write(json.dumps(frame) + "\n")

    def clip_time(self, t):
        """Time on the clip's clock, s."""
        return self.t0 + t * self.factor

    # --- conditions --------------------------------------------------------

    def _W(self):
        t = self._times(120)
        body, racket = self._body(t)
        ball = self.sim.ball(t)
        seen, rs = self._seen(t, body, racket)
        body = self._swapped(self.tracker.flaws(body, [.005] * 3, (.1, .6)))
        racket = self.tracker.flaws(racket, [.008] * 3, (.1, .6))
        b = ball + self.tracker.noise(len(t), 1, [.008] * 3)[:, 0]
        for i, us in enumerate(self._stamps(t)):
            f = dict(index=i, time_us=us, world=flat(body[i], seen[i], self.rng), racket_world=flat(racket[i], rs[i], self.rng))
            if np.isfinite(b[i, 0]) and self.rng.random() > .05:
                f["ball_world"] = flat([b[i]], [True], self.rng)
            self.frames.append(f)

    def _T(self):
        r = self.rng
        a = r.uniform(-np.pi, np.pi)
        gap = np.radians(r.uniform(60, 120)) * r.choice([-1, 1])
        shift = r.uniform(-.2, .2)
        for c, az in enumerate((a, a + gap)):
            cam = self._stand(az, marks=6)
            self._camera(cam, c, 60, 1.5, None, clock=shift * c)
            self.cameras.append(dict(width_px=1920, height_px=1080, court_marks=cam.marks(r)))

    def _P(self, rate=60, racket=True, ball=True):
        r = self.rng
        view = int(r.integers(1, 5))
        cam = self._stand(VIEWS[view] + np.radians(r.uniform(-25, 25)))
        self._camera(cam, 0, rate, 2.0, (.025, .025, .045), racket=racket, ball=ball)
        self.cameras.append(dict(width_px=1920, height_px=1080))
        if r.random() < .5:
            self.cameras[0]["viewpoint"] = view

    def _I(self):
        r = self.rng
        known = r.random() < .5
        cam = self._stand(VIEWS[int(r.integers(1, 5))] + np.radians(r.uniform(-25, 25)), marks=6 if known else 0)
        self._camera(cam, 0, 60, 2.0, None)
        self.cameras.append(dict(width_px=1920, height_px=1080, **(dict(court_marks=cam.marks(r)) if known else {})))
        self.court_known = known

    def _B(self):
        self._P(racket=False, ball=False)

    def _S(self):
        rate, self.factor = [(120, 4.0), (240, 8.0), (240, 4.0)][int(self.rng.integers(3))]
        self._P(rate=rate)

    # --- parts -------------------------------------------------------------

    def _times(self, rate):
        return np.arange(self.rng.uniform(0, 1 / rate), self.sim.end, 1 / rate)

    def _stamps(self, t, clock=0.0):
        jitter = np.clip(self.rng.normal(0, .001, len(t)), -.0015, .0015)
        us = np.round(1e6 * (self.clip_time(t) + clock + jitter)).astype(int)
        return [int(u) for u in us]

    def _body(self, t):
        p = self.sim.points(t)
        p["mid_hip"] = .5 * (p["left_hip"] + p["right_hip"])
        take = lambda names: np.stack([p[n] for n in names], 1)
        self.mid_hip = p["mid_hip"]
        return take(LAYOUTS[self.layout]), take(RACKET)

    def _seen(self, t, body, racket):
        seen, rs = ~self.tracker.lost(len(t), body.shape[1]), ~self.tracker.lost(len(t), 3)
        near = np.zeros(len(t), bool)
        for h in self.sim.hits:
            near |= np.abs(t - h.at) < .05
        rs[:, :2] &= ~(near & (self.rng.random(len(t)) < .15))[:, None]
        return seen, rs

    def _swapped(self, body):
        names = LAYOUTS[self.layout]
        other = [names.index(n.replace("left", "LEFT").replace("right", "left").replace("LEFT", "right")) for n in names]
        # Points that stand more than once in a layout go by the first of their twins.
        for i in np.flatnonzero(self.rng.random(len(body)) < .005):
            body[i] = body[i, other]
        return body

    def _stand(self, az, marks=0):
        """A camera that sees the whole player, and enough marks."""
        r, best = self.rng, None
        target = self.sim.middle + [0, 1.25 if self.sim.over else 1.05, 0]
        t = np.linspace(0, self.sim.end, 40)
        p = self.sim.points(t)
        p = np.stack([p["head_top"], p["left_ankle"], p["right_ankle"], p["racket_tip"]])
        for _ in range(80):
            far, focal = r.uniform(5, 11), r.uniform(1150, 1700)
            at = target + far * np.array([np.cos(az), 0, np.sin(az)])
            at[1] = r.uniform(.9, 3.2)
            cam = Camera(at, target + [0, r.uniform(-.1, .2), 0], focal)
            n = len(cam.marks(r))
            _, ok = cam.image(p)
            score = ok.mean() + (.5 if n >= marks else n / 20)
            if best is None or score > best[0]:
                best = score, cam
            if ok.all() and n >= marks:
                break
            az += np.radians(r.uniform(-6, 6)) if marks else 0
        return best[1]

    def _camera(self, cam, c, rate, px, world, clock=0.0, racket=True, ball=True):
        t = self._times(rate)
        body, rod = self._body(t)
        sees, rs = self._seen(t, body, rod)
        y, ok = cam.image(body)
        yr, okr = cam.image(rod)
        yb, okb = cam.image(np.nan_to_num(self.sim.ball(t), nan=-1e3)[:, None])
        y = self._swapped(self.tracker.flaws(y, [px] * 2, (40, 250)))
        yr = self.tracker.flaws(yr, [px] * 2, (40, 250))
        yb = yb + self.tracker.noise(len(t), 1, [px] * 2)
        w = None
        if world is not None:
            w = self._swapped(self.tracker.flaws(cam.turned(body - self.mid_hip[:, None]), world, (.1, .6)))
        for i, us in enumerate(self._stamps(t, clock)):
            s = sees[i] & ok[i]
            f = dict(index=i, time_us=us, camera=c, image=flat(y[i], s, self.rng))
            if w is not None:
                f["world"] = flat(w[i], s, self.rng)
            if racket:
                f["racket_image"] = flat(yr[i], rs[i] & okr[i], self.rng)
            if ball and okb[i, 0] and self.rng.random() > .05:
                f["ball_image"] = flat(yb[i], [True], self.rng)
            self.frames.append(f)
