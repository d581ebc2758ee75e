"""The answers, from the fine motion, by the definitions of the measures.

Positions are taken every millisecond; values at contact are limits from
before it. An event that a millimetre of slow sway would move far is not scored.
"""
import numpy as np

from body import unit
from plan import BACKHANDS, OVER, OVERHEAD, SERVE, TWO_HANDED

DT = 1e-3
NEEDED = ["racket_tip", "racket_throat", "racket_butt"] + [f"{s}_{j}" for s in ("left", "right") for j in
          ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")]


class Motion:
    """Points of a session, left-handers mirrored (Z turned, sides exchanged)."""

    def __init__(self, session, left, stature):
        self.s, self.left, self.stature = session, left, stature
        self.build, self.hits, self.end = session.build, session.hits, session.end
        self.over = any(h.stroke in OVER for h in self.hits)
        p = session.p.pelvis(np.linspace(0, self.end, 200))
        self.middle = p.mean(0) * [1, 0, -1 if left else 1]

    def points(self, t):
        p = self.s.p.points(t)
        if not self.left:
            return p
        swap = lambda n: n.replace("left", "L").replace("right", "left").replace("L", "right") if n[0] in "lr" and not n.startswith("racket") else n
        return {swap(n): v * [1, 1, -1] for n, v in p.items()}

    def ball(self, t):
        out = np.full((len(t), 3), np.nan)
        for h in self.hits:
            if h.ball is None:
                continue
            t0, path = h.ball
            at = t0 + 1e-3 * np.arange(len(path))
            inside = (t >= t0) & (t <= at[-1])
            for k in range(3):
                out[inside, k] = np.interp(t[inside], at, path[:, k])
        if self.left:
            out[:, 2] *= -1
        return out


def heading(v):
    return unit(v * [1, 0, 1])


class Truth:
    """Events (s) and measures of one stroke. court: X is the court's; else the chest's
    in READY (a server's and a smasher's: the head's way into contact)."""

    def __init__(self, motion, hit, court, points=None, shake=None):
        self.m, self.hit = motion, hit
        self.t = hit.at + DT * np.arange(-round(2.9 / DT), 1)
        self.t = self.t[self.t > .05]
        self.p = p = dict(points or motion.points(self.t))
        if shake is not None:
            for k in NEEDED:
                p[k] = p[k] + shake(self.t)
        self.tip, self.butt = p["racket_tip"], p["racket_butt"]
        self.u = unit(self.tip - self.butt)
        self.grip = self.butt + .10 * self.u
        self.head = .5 * (self.tip + p["racket_throat"])
        self.hip = .5 * (p["left_hip"] + p["right_hip"])
        self.mid = .5 * (p["left_shoulder"] + p["right_shoulder"])
        way = heading(self.head[-1] - self.head[-1 - round(.04 / DT)])
        self.f = way
        self.hand = "left" if motion.left else "right"
        side = -1 if motion.left else 1
        if hit.stroke in BACKHANDS:
            side = -side
        self.x = np.array([1.0, 0, 0])
        if not court:
            self.x = way if hit.stroke in OVER else self._ready()
        self.h = side * np.cross(self.x, [0, 1, 0])
        self.events, self.measures = {}, {}
        self._find()

    def _chest(self):
        a = self.p["right_shoulder"] - self.p["left_shoulder"]
        return heading(np.cross([0, 1, 0], a))

    def _ready(self):
        """Where the chest faces in the last half second before the turn."""
        c = self._chest()
        self.x, self.h = np.array([1.0, 0, 0]), None
        k = slice(max(0, self._turn_start() - round(.5 / DT)), max(1, self._turn_start()))
        return heading(c[k].mean(0))

    def _angle(self, name):
        a = self.p["right_" + name] - self.p["left_" + name]
        c = heading(np.cross([0, 1, 0], a))
        h = self.h if self.h is not None else self._side()
        return np.unwrap(np.arctan2(c @ h, c @ self.x))

    def _side(self):
        side = (-1 if self.m.left else 1) * (-1 if self.hit.stroke in BACKHANDS else 1)
        return side * np.cross(self.x, [0, 1, 0])

    def _turn_start(self):
        turn = self._angle("shoulders"[:-1])
        rate = np.gradient(turn, DT)
        since = {SERVE: (self.hit.release or 0) - 1.0, OVERHEAD: self.hit.at - 2.5}.get(self.hit.stroke, self.hit.at - 2.0)
        first = np.searchsorted(self.t, since)
        self.first = first
        top = first + int(np.argmax(rate[first:]))
        slow = np.flatnonzero(rate[first:top] < .2 * rate[top])
        return first + int(slow[-1]) if len(slow) else first

    def _find(self):
        e, t, n = self.events, self.t, len(self.t)
        e["CONTACT"] = self.hit.at
        turn, hips = self._angle("shoulder"), self._angle("hip")
        ts = self._turn_start()
        e["TURN_START"] = t[ts]
        high = turn[ts:].max()
        tc = ts + int(np.argmax(turn[ts:] >= .97 * high))
        e["TURN_COMPLETE"] = t[tc]
        v = np.gradient(self.grip, DT, axis=0, edge_order=2)
        along = v @ self.f
        low = np.flatnonzero(along < .05 * along[-1])
        fs = int(low[-1]) if len(low) else 0
        e["FORWARD_START"] = t[fs]
        speed = np.linalg.norm(v, axis=1)
        lag = np.degrees(np.arccos(np.clip(np.sum(self.u * v, 1) / np.maximum(speed, 1e-9), -1, 1))) - 90
        ok = np.arange(n) >= fs
        ok &= speed > .2 * speed[-1]
        ok &= speed > 1
        if ok.any():
            ml = int(np.argmax(np.where(ok, lag, -np.inf)))
            if ml < n - 3:  # a largest lag at the end of the stretch has no instant of its own
                e["MAX_LAG"] = t[ml]
            self.measures["lag.max"] = lag[ml]
        self._low(tc, ts)
        self._values(turn, hips, ts, fs)

    def _low(self, tc, ts):
        e, y = self.events, self.tip[:, 1]
        if self.hit.stroke in OVER:
            back = "right" if not self.m.left else "left"
            hip, knee, ankle = (self.p[f"{back}_{j}"] for j in ("hip", "knee", "ankle"))
            flex = flexion(hip, knee, ankle)
            k0 = np.searchsorted(self.t, self.hit.release) if self.hit.stroke == SERVE else ts
            tc = k0 + int(np.argmax(flex[k0:]))
            e["TROPHY"] = self.t[tc]
        k = tc + int(np.argmin(y[tc:]))
        if not tc + 2 < k < len(y) - 3:
            return
        e["RACKET_LOW"] = self.t[k]
        s = y[ts:k]
        peaks = np.flatnonzero((s[1:-1] > s[:-2]) & (s[1:-1] >= s[2:])) + 1
        peaks = [q for q in peaks if s[q] >= y[k] + .05]
        if peaks:
            e["DROP_START"] = self.t[ts + peaks[-1]]

    def _values(self, turn, hips, ts, fs):
        m, p = self.measures, self.p
        tv = np.gradient(self.tip, DT, axis=0, edge_order=2)
        m["racket_speed.tip.contact"] = float(np.linalg.norm(tv[-1]))
        m["racket_speed.tip.peak"] = float(np.linalg.norm(tv, axis=1)[fs:].max())
        sep = np.degrees(turn - hips)
        for name, a in (("shoulders", turn), ("hips", hips)):
            a = np.degrees(a)
            m[f"turn.{name}.max"], m[f"turn.{name}.contact"] = a[self.first:].max(), a[-1]
            m[f"turn.{name}.forward_range"] = a[fs] - a[-1]
        m["turn.separation.max"], m["turn.separation.forward_start"], m["turn.separation.contact"] = sep[ts:].max(), sep[fs], sep[-1]
        other = "right" if self.hand == "left" else "left"
        arm, support = (other, self.hand) if self.hit.stroke == TWO_HANDED else (self.hand, other)
        for name, side in (("hitting", arm), ("support", support)):
            if name == "support" and self.hit.stroke != TWO_HANDED:
                continue
            flex = flexion(*(p[f"{side}_{j}"] for j in ("shoulder", "elbow", "wrist")))
            m[f"elbow.{name}.forward_start"], m[f"elbow.{name}.contact"] = flex[fs], flex[-1]
        head, hip = self.head[-1], self.hip[-1]
        m["contact.height"], m["contact.height_waist"] = head[1], head[1] - hip[1]
        m["contact.ahead"] = (head - hip) @ self.x
        m["spacing.hands"] = (self.grip[-1] - hip) @ self.h
        m["spacing.clearance"] = m["spacing.hands"] - .5 * np.linalg.norm(p["left_hip"][-1] - p["right_hip"][-1])
        m["spacing.reach"] = np.linalg.norm((head - self.mid[-1]) * [1, 0, 1])


def flexion(a, b, c):
    """Degrees from straight at b."""
    return 180 - np.degrees(np.arccos(np.clip(np.sum(unit(a - b) * unit(c - b), -1), -1, 1)))


def sway(rng):
    """A millimetre of slow sway, another for each point."""
    def shake(t):
        f, ph, a = rng.uniform(1, 4, 3), rng.uniform(0, 6.3, 3), .001 * unit(rng.standard_normal(3))
        return a * np.sin(2 * np.pi * f * t[:, None] + ph)
    return shake


def steady(motion, hit, court, rng):
    """The truth with what a hair's change would move taken out: a sway of a
    millimetre at 1 to 4 Hz, tried three times."""
    plain = Truth(motion, hit, court)
    for _ in range(3):
        shaken = Truth(motion, hit, court, plain.p, sway(rng))
        for kind, least in (("events", .006), ("measures", None)):
            mine, theirs = getattr(plain, kind), getattr(shaken, kind)
            for k in list(mine):
                far = least or (.5 if k[:3] in ("tur", "elb", "lag") else .004 + .01 * abs(mine[k]) * k.startswith("racket"))
                if k.startswith("TURN"):
                    far = .012
                if k not in theirs or abs(theirs[k] - mine[k]) > far:
                    del mine[k]
    return plain
