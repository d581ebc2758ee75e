"""Recorded players with a made racket and a made ball.

    python3 recorded.py RECORDINGS DIR --conditions WP --seed 1 [--clips 14]
    courtkin analyze --json DIR/W/*.ndjson > answers
    python3 strokes.py score DIR/W answers

The bodies move as people did: optical motion capture, 100 Hz, of which RECORDINGS is
the folder (its README.md tells source and licence; nothing of it is kept here). The
capture has no racket and no ball, and nobody labelled contact. So these are made:

* The racket is a rigid rod on a wrist that is a damped spring: I dw/dt is what gravity
  and the wrist's acceleration do to the rod's mass, and the spring's pull toward a
  direction that goes along with the forearm. Mass, balance and moment of inertia are a
  common racket's about the hand (300 to 340 g, .03 kg m2 and a little more); spring and
  damping are invented. The result lags and whips as a driven rod does, with no curve
  drawn for it.
* Impact takes 20 to 30 % of the tip's speed (drawn), at once or over 2 or 5 ms (contact
  lasts 4 to 5 ms). By momentum the struck point loses half and more, m/M (1 + e) (u + V),
  and the tip less (literature.md 4.2); the share itself is taken, not derived. The
  engine expects the same of a tip, so these clips do not test that assumption. The arm
  does not feel the blow: the recorded one had its own, at its own instant.
* The ball leaves by Brody's v_out = e u + (1 + e) V along the blow, apparent restitution
  e .28 to .45 (typical: .45 at the centre, less towards the tip); it flies under drag at
  Cd .507, varied, and some lift. Incoming speeds are invented.
* Contact is put 5 ms before to 40 ms after the wrist's greatest speed, overhead about
  its greatest height: invented, for a contact made cannot be where the real one was.
  The direction of play is the wrist's before contact, give or take 7 degrees.

What is real: how trunk, arms and legs move together, how they wait, and what they do
that no simulator thought of. The bodies are solved rigid skeletons, weak at the wrist.
The truth is of the motion as made (truth.py), with the noise of clip.py on the clips.
"""
import argparse
import csv
import glob
import json
import os
import sys

import numpy as np
from scipy.interpolate import CubicSpline, make_interp_spline
from scipy.signal import butter, sosfiltfilt

from body import unit
from clip import Clip
from plan import BACKHANDS, FOREHAND, NAMES, ONE_HANDED, OVER, OVERHEAD, SERVE, TWO_HANDED, VOLLEYS, FH_VOLLEY, BH_VOLLEY
from session import DRAG, RADIUS, G, Hit
from truth import Motion, steady

CONDITIONS = "WTPIBS"
GRAVITY = np.array([0, -G, 0])
DT = 1e-3  # s: steps of racket and ball
STROKES = dict(forehand=FOREHAND, backhand=ONE_HANDED, serve=SERVE, forehand_volley=FH_VOLLEY,
               backhand_volley=BH_VOLLEY, smash=OVERHEAD)
JOINTS = "shoulder elbow wrist hip knee ankle toe".split()

# The racket about the hand: kg, m from the hand to its balance, kg m2.
MASS, BALANCE, INERTIA = .32, .24, .034
LENGTH = .685

# Truth of these needs the direction of play. Where there is no court that is the chest's
# in READY, and a clip whose turn starts sooner than this has no READY to take it from.
READY_NEEDS = .3  # s
BY_READY = ["turn.shoulders.max", "turn.shoulders.contact", "turn.hips.max", "turn.hips.contact",
            "contact.ahead", "spacing.hands", "spacing.clearance"]


class Recording:
    """One capture: t (n,) s, points {name: (n, 3)} m with Y up, heading arbitrary."""

    def __init__(self, folder, name):
        with open(os.path.join(folder, name + ".json")) as f:
            about = json.load(f)
        with open(os.path.join(folder, name + ".csv")) as f:
            head, *rows = csv.reader(f)
        table = np.array(rows, float)
        column = {n: i for i, n in enumerate(head)}

        def take(point):
            v = table[:, column[point + "_x"]:][:, :3]
            return np.stack([v[:, 0], v[:, 2], -v[:, 1]], 1)
        self.name, self.rate, self.t = name, about["fps"], table[:, 0]
        self.points = p = {f"{side}_{j}": take(f"{side[0]}_{j}") for side in ("left", "right") for j in JOINTS}
        p["neck"], p["head"] = take("neck"), take("head")
        p["head_top"] = take("head_top") if "head_top_x" in column else p["head"] + [0, .17, 0]
        self.stroke = STROKES[about["stroke"].split(" ")[0]]
        if self.stroke == ONE_HANDED and about.get("two_handed"):
            self.stroke = TWO_HANDED
        self.peaks = about.get("auto_peaks_s") or [about["ref"]["peak_time_s"]]  # s, of the wrist's speed


class Build:
    """The made racket and how it is held, m; see body.Build."""

    def __init__(self, rng, stature):
        self.racket, self.throat = LENGTH, rng.uniform(.32, .36)
        self.hold, self.mix = rng.uniform(.06, .11), rng.uniform(.35, .75)
        self.palm = .047 * stature
        self.lever = self.racket - self.hold  # hand to tip


class Replay:
    """A recording made continuous and set on the court, with racket and ball. Stands for
    a session, and for its player. Right-handed; truth.Motion mirrors."""

    def __init__(self, recording, rng):
        self.p, self.rng, self.stroke, self.end = self, rng, recording.stroke, recording.t[-1]
        body = self._smooth(recording)
        self.stature = float(np.percentile(body["head_top"][:, 1], 90) / .985)
        times = self._contacts(recording, body["right_wrist"])
        self._place(recording.t, body, times)
        self.build = Build(rng, self.stature)
        self.hits = [Hit(self.stroke, round(t / DT) * DT) for t in times]
        self.loss = rng.uniform(.2, .3)                    # of the tip's speed
        self.dwell = int(rng.choice([1, 2, 5]))            # ms
        self.spring, self.damping = rng.uniform(9, 26), rng.uniform(.35, .8)  # N m/rad; share of critical
        self._swing()
        for hit in self.hits:
            hit.loss = self.loss
            self._ball(hit)

    def _smooth(self, recording):
        """Points over the ground, low-passed at 14 to 20 Hz: capture noise out, impact's blow
        on the arm mostly too."""
        p = recording.points
        low = min(min(p[s + "_toe"][:, 1].min() - .02, p[s + "_ankle"][:, 1].min() - .07) for s in ("left", "right"))
        sos = butter(2, self.rng.uniform(14, 20), fs=recording.rate, output="sos")
        return {k: sosfiltfilt(sos, v, axis=0) - [0, low, 0] for k, v in p.items()}

    def _contacts(self, recording, wrist):
        """Instants of contact, s, from the wrist's speed or height about each noted peak."""
        course = CubicSpline(recording.t, wrist)
        t = np.arange(recording.t[0], recording.t[-1], .002)
        speed, height = np.linalg.norm(course(t, 1), axis=1), course(t)[:, 1]

        def top(values, low, high):
            near = (t > low) & (t < high)
            return t[near][np.argmax(values[near])]
        out = []
        for peak in recording.peaks:
            at = top(speed, peak - .1, peak + .1)
            if self.stroke in OVER:
                out.append(top(height, at - .16, at + .06) + self.rng.uniform(-.01, .03))
            else:
                out.append(at + self.rng.uniform(-.005, .04))
        self.way = [course(at) - course(at - .05) for at in out]
        return out

    def _place(self, t, body, times):
        """Turns the player so that play goes along X, and puts him where he would stand."""
        r = self.rng
        way = unit(np.mean([unit(w * [1, 0, 1]) for w in self.way], 0))
        a = np.arctan2(way[2], way[0]) + np.radians(r.normal(0, 7))
        turn = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
        near = self.stroke in VOLLEYS or self.stroke == OVERHEAD
        self.place = np.array([r.uniform(6.5, 9) if near else r.uniform(-1.2, .3), 0, r.uniform(-2.5, 2.5)])
        middle = .5 * (body["left_hip"] + body["right_hip"]).mean(0) * [1, 0, 1]
        self.course = {k: make_interp_spline(t, (v - middle) @ turn.T + self.place, k=5) for k, v in body.items()}

    def pelvis(self, t):
        """Where he stands, on the ground: what truth.Motion aims the cameras at."""
        return np.tile(self.place, (len(t), 1))

    # --- racket ------------------------------------------------------------

    def _aims(self):
        """The racket's direction at each contact, court axes: invented, by stroke."""
        side = -1 if self.stroke in BACKHANDS else 1
        if self.stroke in OVER:
            usual = [.14, .95, .08]
        elif self.stroke in VOLLEYS:
            usual = [.02, .5, .8 * side]
        else:
            usual = [.05, -.1, side]
        own = unit(unit(usual) + .12 * self.rng.standard_normal(3))
        return [unit(own + .04 * self.rng.standard_normal(3)) for _ in self.hits]

    def _swing(self):
        """Finds the racket's course. The wrist pulls toward a direction fixed in the
        forearm's frame; that is corrected five times until the rod, late and whipping,
        comes through about as aimed. Where it ends is the truth, aimed or not."""
        n = int(self.end / DT) + 1
        t = DT * np.arange(n)
        struck = [round(h.at / DT) for h in self.hits]
        frame = carried(unit(self.course["right_wrist"](t) - self.course["right_elbow"](t)))
        swing = self._swinging(t)[:, None]
        wait = unit([.55, .75, .2 if self.stroke in OVER else -.15])  # racket up before the player
        aims = self._aims()
        grip = [frame[i].T @ aim for i, aim in zip(struck, aims)]
        which = np.clip(np.searchsorted([i + round(.6 / DT) for i in struck], np.arange(n)), 0, len(struck) - 1)
        for _ in range(5):
            toward = np.einsum("nij,nj->ni", frame, np.stack(grip)[which])
            u = self._drive(t, unit(swing * toward + (1 - swing) * wait), struck)
            for j, i in enumerate(struck):
                grip[j] = unit(turned(grip[j], frame[i].T @ np.cross(u[i], aims[j]), u[i] @ aims[j]))
        edges = [0] + struck + [n - 1]  # no spline runs over a blow
        self.rod = [(t[a], t[b], make_interp_spline(t[a:b + 1], u[a:b + 1], k=3)) for a, b in zip(edges, edges[1:])]

    def _swinging(self, t):
        """0 waiting, 1 in a swing; spans are invented."""
        ease = lambda x: (lambda s: s ** 3 * (10 - 15 * s + 6 * s * s))(np.clip(x, 0, 1))
        lead = 1.3 if self.stroke in OVER else .75
        return np.max([ease((t - h.at + lead) / .5) * (1 - ease((t - h.at - .35) / .6)) for h in self.hits], 0)

    def _drive(self, t, toward, struck):
        """The rod's direction (n, 3) under the wrist's pull toward the given directions, with
        the blows at the given steps. Semi-implicit Euler; plain floats, for speed."""
        wrist = self.course["right_wrist"]
        pull = (MASS * BALANCE * (wrist(t, 2) - GRAVITY)).tolist()  # N m, across the rod
        rate = np.cross(toward, np.gradient(toward, DT, axis=0)).tolist()
        damping = 2 * self.damping * np.sqrt(self.spring * INERTIA)
        goal, u, w = toward.tolist(), tuple(toward[0]), (0.0, 0.0, 0.0)
        blows, out = [], np.empty((len(t), 3))
        for i, (g, f, r) in enumerate(zip(goal, pull, rate)):
            out[i] = u
            c, drag = cross(u, g), cross(u, f)
            sine = (c[0] * c[0] + c[1] * c[1] + c[2] * c[2]) ** .5
            k = self.spring * np.arctan2(sine, u[0] * g[0] + u[1] * g[1] + u[2] * g[2]) / max(sine, 1e-9)
            w = [a + DT / INERTIA * (k * b - d - damping * (a - e)) for a, b, d, e in zip(w, c, drag, r)]
            if i in struck:
                blows = self._blow(wrist(t[i], 1), np.array(u), np.array(w))
            if blows:
                w = [a + b for a, b in zip(w, blows.pop())]
            along = w[0] * u[0] + w[1] * u[1] + w[2] * u[2]
            w = [a - along * b for a, b in zip(w, u)]
            v = [a + DT * b for a, b in zip(u, cross(w, u))]
            size = (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]) ** .5
            u = (v[0] / size, v[1] / size, v[2] / size)
        return out

    def _blow(self, hand, u, w):
        """Changes of the rod's rate of turning, rad/s, step by step over the dwell (half a
        sine), that leave 1 - loss of the tip's speed."""
        tip = hand + self.build.lever * np.cross(w, u)
        across = tip - (tip @ u) * u
        left = 1 - (1 - (1 - self.loss) ** 2) * (tip @ tip) / (across @ across)
        change = np.cross(u, -(1 - np.sqrt(max(left, 0))) * across) / self.build.lever
        shape = np.sin(np.pi * (np.arange(self.dwell) + .5) / self.dwell)
        return [change * s for s in shape / shape.sum()]

    def axis(self, t):
        """The racket's direction (n, 3), continuous from the left at a blow."""
        out = np.empty((len(t), 3))
        for j, (a, b, course) in enumerate(self.rod):
            inside = ((t > a) | (j == 0)) & ((t <= b) | (j == len(self.rod) - 1))
            out[inside] = course(np.clip(t[inside], a, b))
        return unit(out)

    def points(self, t):
        """Every point at times t: {name: (n, 3)}, court axes."""
        t = np.atleast_1d(np.asarray(t, float))
        at = {k: s(np.clip(t, 0, self.end)) for k, s in self.course.items()}
        p, b, u = dict(at), self.build, self.axis(t)
        for side in ("left", "right"):
            fore = unit(at[side + "_wrist"] - at[side + "_elbow"])
            lean = b.mix if side == "right" else 0
            p[side + "_fist"] = at[side + "_wrist"] + b.palm * unit((1 - lean) * fore + lean * u)
            flat = unit((at[side + "_toe"] - at[side + "_ankle"]) * [1, 0, 1])
            p[side + "_heel"] = at[side + "_ankle"] - self.stature * (.025 * flat + [0, .03, 0])
        p["racket_butt"] = butt = p["right_fist"] - b.hold * u
        p["racket_throat"], p["racket_tip"] = butt + b.throat * u, butt + b.racket * u
        self._face(p)
        return p

    def _face(self, p):
        """Points of the head, which the capture lacks: it looks between chest and net."""
        h, up = self.stature, unit(p["head_top"] - p["head"])
        chest = unit(np.cross([0, 1, 0], p["right_shoulder"] - p["left_shoulder"]))
        ahead = unit((chest + [.9, 0, 0]) * [1, 0, 1])
        right = np.cross(ahead, [0, 1, 0])
        middle = p["head"] + .35 * (p["head_top"] - p["head"])
        for side, k in (("left", -1), ("right", 1)):
            p[side + "_ear"] = middle + h * k * .042 * right
            p[side + "_eye"] = middle + h * (.048 * ahead + k * .018 * right + .012 * up)
            p[side + "_mouth"] = middle + h * (.05 * ahead + k * .012 * right - .024 * up)
        p["nose"] = middle + h * (.058 * ahead - .006 * up)

    # --- ball --------------------------------------------------------------

    def _ball(self, hit):
        """The ball's course before and after the blow, DT apart."""
        r = self.rng
        p = self.points(hit.at - 1e-4 * np.arange(3))
        head = .5 * (p["racket_tip"] + p["racket_throat"]) + r.normal(0, .03) * self.axis(hit.at - 1e-4 * np.arange(3))
        speed = (3 * head[0] - 4 * head[1] + head[2]) / 2e-4
        came, toss = self._coming(), None
        if self.stroke == SERVE:
            toss = self._toss(hit)
            up = hit.at - hit.release
            came = (head[0] - toss) / up + .5 * GRAVITY * up
        rise = np.radians(r.uniform(-12, -3) if self.stroke in OVER else r.uniform(0, 12))
        way = unit([1, np.tan(rise), r.normal(0, .1)])
        blow = unit((4 + 1.4 * np.linalg.norm(speed)) * way - came)  # what would send the ball that way
        spot = head[0] + RADIUS * blow
        gone = came + (1 + r.uniform(.28, .45)) * max(2.0, (speed - came) @ blow) * blow
        if toss is None:
            past = self._fly(spot, came, -DT, int(r.uniform(.5, 1) / DT))
        else:
            past = self._tossed(hit, spot, toss)
        course = np.concatenate([past[::-1], spot[None], self._fly(spot, gone, DT, round(.6 / DT))])
        hit.ball = hit.at - DT * len(past), course

    def _coming(self):
        """The ball's velocity just before a blow, m/s: invented."""
        r = self.rng
        if self.stroke == OVERHEAD:
            return np.array([-r.uniform(3, 6), -r.uniform(6, 10), r.uniform(-.8, .8)])
        if self.stroke in VOLLEYS:
            return np.array([-r.uniform(9, 16), r.uniform(-2.5, 1), r.uniform(-2, 2)])
        return np.array([-r.uniform(7, 15), r.uniform(-3, 2), r.uniform(-2, 2)])

    def _toss(self, hit):
        """Release of the toss: where the other fist rises fastest."""
        t = np.arange(max(.1, hit.at - 1.1), hit.at - .35, .005)
        hit.release = float(t[np.argmax(np.gradient(self.points(t)["left_fist"][:, 1]))])
        return self.points([hit.release])["left_fist"][0]

    def _tossed(self, hit, spot, toss):
        """Backwards in time: the toss, and the ball in the hand before it."""
        up = hit.at - hit.release
        t = up - DT * np.arange(1, int(up / DT) + 1)[:, None]
        held = hit.release - DT * np.arange(1, 700)
        start = (spot - toss) / up - .5 * GRAVITY * up
        return np.concatenate([toss + start * t + .5 * GRAVITY * t ** 2, self.points(held[held > 0])["left_fist"]])

    def _fly(self, x, v, dt, n):
        """n steps of dt under gravity, drag, and in most balls lift (coefficient within about
        .2, top- or backspin); the ball bounces once, and one that comes to a volley not."""
        r = self.rng
        drag = DRAG * r.uniform(.8, 1.2)
        lift = np.array([0, 0, r.normal(0, .1)]) * DRAG / .507 if r.random() < .7 else np.zeros(3)
        bounced = dt < 0 and (self.stroke in VOLLEYS or self.stroke == OVERHEAD)
        out = np.full((n, 3), np.nan)
        for i in range(n):
            size = np.linalg.norm(v)
            a = GRAVITY - drag * size * v + size * np.cross(lift, v)
            x, v = x + dt * v + .5 * dt * dt * a, v + dt * a
            if x[1] < RADIUS and (v[1] < 0) == (dt > 0):
                if bounced and dt < 0:
                    break
                bounced = True
                up, along = (.75, .66) if dt > 0 else (1 / .75, 1 / .66)
                v = v * [along, -up, along]
            out[i] = x
        return out


def cross(a, b):
    """Cross product of two triples, without numpy's price for so little."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def carried(way):
    """Frames (n, 3, 3), columns: way and two across it that are carried along, not spun."""
    out = np.empty((len(way), 3, 3))
    across = np.cross(way[0], [0, 1, 0])
    for i, f in enumerate(way):
        across = across - (across @ f) * f
        across = across / np.sqrt(across @ across)
        out[i, :, 0], out[i, :, 1], out[i, :, 2] = f, across, cross(f, across)
    return out


def turned(v, axis, cosine):
    """v turned about axis (whose length is the angle's sine), nine tenths of the angle."""
    sine = np.linalg.norm(axis)
    if sine < 1e-9:
        return v
    a, k = .9 * np.arctan2(sine, cosine), axis / sine
    return v * np.cos(a) + np.cross(k, v) * np.sin(a) + k * (k @ v) * (1 - np.cos(a))


def truths(motion, clip, rng):
    """The answers to a clip. A measure by READY is left out where there was none; so is an
    event in the clip's first tenth of a second."""
    court = clip.condition in "WT" or (clip.condition == "I" and clip.court_known)
    out = []
    for hit in motion.hits:
        t = steady(motion, hit, court, rng)
        events = {k: v for k, v in t.events.items() if v >= .1}
        measures = {k: float(v) for k, v in t.measures.items()}
        if not court and hit.stroke not in OVER and t.t[t._turn_start()] < READY_NEEDS:
            measures = {k: v for k, v in measures.items() if k not in BY_READY}
            events.pop("TURN_COMPLETE", None)  # 97 % of a turn from READY
        out.append(dict(stroke=NAMES[hit.stroke], level=0, left=motion.left, stature=motion.stature, factor=clip.factor,
                        loss=float(hit.loss), contact=clip.clip_time(hit.at),
                        events={k: clip.clip_time(v) for k, v in events.items()}, measures=measures))
    return out


def chosen(folder, most):
    """(number, name) of the recordings: all, or single strokes spread evenly over them.
    Faults of capture (_spike) are left out, and skin markers without joints (kt_)."""
    names = sorted(os.path.basename(f)[:-4] for f in glob.glob(os.path.join(folder, "tm*.csv")))
    rows = [(i, n) for i, n in enumerate(names) if "spike" not in n]
    if not rows:
        sys.exit(f"no recordings in {folder}")
    if most:
        rows = [r for r in rows if r[1].startswith("tm_")]
        rows = [rows[i] for i in np.unique(np.linspace(0, len(rows) - 1, most).round().astype(int))]
    return rows


def make(a):
    """DIR/CONDITION/*.ndjson and truth.json. Equal seeds give equal clips, one body, racket
    and ball of a recording in all conditions."""
    answers = {c: {} for c in a.conditions}
    for i, name in chosen(a.recordings, a.clips):
        rng = np.random.default_rng([a.seed, i])
        replay = Replay(Recording(a.recordings, name), rng)
        motion = Motion(replay, bool(rng.random() < .2), replay.stature)
        for c in a.conditions:
            rng = np.random.default_rng([a.seed, i, 1 + CONDITIONS.index(c)])
            clip = Clip(motion, c, rng)
            file = f"{c}{a.seed}-{name}.ndjson"
            answers[c][file] = truths(motion, clip, rng)
            os.makedirs(os.path.join(a.dir, c), exist_ok=True)
            clip.write(os.path.join(a.dir, c, file))
    for c in a.conditions:
        with open(os.path.join(a.dir, c, "truth.json"), "w") as f:
            json.dump(answers[c], f, indent=1)


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("recordings")
    p.add_argument("dir")
    p.add_argument("--conditions", default="WP")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--clips", type=int, default=0, help="at most so many, of one stroke each; 0: all, the series too")
    make(p.parse_args())


if __name__ == "__main__":
    main()
