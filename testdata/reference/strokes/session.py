"""A player on court: waiting, hopping, stepping, hitting, and what is no stroke.

Racket and ball meet as two rigid bodies: an impulse along the face's normal, from
a ball of 57.7 g with a restitution drawn for the strings, on a racket that the
hand loads with a drawn mass and a drawn moment of inertia.
"""
import numpy as np

from body import Build, Player, arm_pose, unit
from plan import BACKHANDS, OVER, OVERHEAD, READY, SERVE, TWO_HANDED, VOLLEYS, Swing
from tracks import STEP, Pulse, Track

G = 9.80665
BALL, RADIUS = .0577, .0335
DRAG = .0186  # 1/m at Cd .507


class Hit:
    """What is known of one stroke: times on the true clock."""

    def __init__(self, stroke, at):
        self.stroke, self.at, self.release, self.ball = stroke, at, None, None


def flight(x, v, dt, n, bounce=True):
    """Ball with drag and gravity, n steps of dt (negative: back in time)."""
    out = np.empty((n, 3))
    bounced = not bounce
    for i in range(n):
        k1 = -DRAG * np.linalg.norm(v) * v - [0, G, 0]
        vm = v + .5 * dt * k1
        k2 = -DRAG * np.linalg.norm(vm) * vm - [0, G, 0]
        x, v = x + dt * vm, v + dt * k2
        if x[1] < RADIUS and (v[1] < 0) == (dt > 0):
            if bounced and dt < 0:
                out[i:] = np.nan
                break
            bounced = True
            r, f = (.75, .66) if dt > 0 else (1 / .75, 1 / .66)
            v = v * [f, -r, f]
        out[i] = x
    return out


class Session:
    """One clip's motion. strokes: list of stroke numbers, in order."""

    def __init__(self, rng, stature, level, strokes, busy=True):
        self.rng, self.level = rng, level
        near = all(s in VOLLEYS or s == OVERHEAD for s in strokes)
        place = np.array([rng.uniform(6.5, 9) if near else rng.uniform(-1.2, .4), rng.uniform(-2.5, 2.5)])
        if strokes[0] == SERVE:
            place = np.array([-.25, rng.uniform(-1.5, 1.5)])
        self.build = Build(rng, stature)
        self.place = place
        self.p = Player(self.build, place, 0.0)
        self._arm_ready(None)
        self.hits, self.habits = [], {}
        t = rng.uniform(.4, .9)
        if busy and rng.random() < .5:
            t = self._idle(t)
        for stroke in strokes:
            t = self._stroke(stroke, t)
            if busy and rng.random() < .35:
                t = self._idle(t)
        self.end = t + rng.uniform(.2, .6)

    def _arm_ready(self, pulse):
        b = self.build
        k = {n: np.array(v) for n, v in READY.items()}
        if pulse is None:
            self.p.set_arm(k["w"] * b.arm, unit(k["u"]), k["hint"])
            self.p.where = Track(b.throat)
            return
        r, flexion, rod = arm_pose(b, k["w"] * b.arm, unit(k["u"]), k["hint"])
        self.p.humerus.to(r, pulse)
        self.p.elbow.to(flexion, pulse)
        self.p.rod.to(rod, pulse)

    # --- what is no stroke -------------------------------------------------

    def _idle(self, t):
        what = self.rng.choice(["walk", "pick", "half", "sway"], p=[.45, .2, .15, .2])
        return getattr(self, "_" + what)(t)

    def _walk(self, t):
        r, h = self.rng, self.build.stature
        to = self.place + r.uniform(-1.0, 1.0, 2) * [.4, 1.3]
        self._shuffle(t, to)
        return self.walked + r.uniform(.3, .6)

    def _shuffle(self, t, to):
        """Side steps to a place, still facing the net."""
        r, h = self.rng, self.build.stature
        way = to - self.place
        n = max(1, int(np.ceil(np.linalg.norm(way) / .45)))
        step = r.uniform(.26, .36)
        first = "right" if way[1] > 0 else "left"
        order = (first, "left" if first == "right" else "right")
        end = t + n * 2 * step
        self.p.pelvis.to([to[0], self.p.pelvis.goal[1], to[1]], Pulse.span(t - .05, end + .15, .2))
        for i in range(n):
            at = self.place + way * (i + 1) / n
            for j, side in enumerate(order):
                k = 1 if side == "right" else -1
                on = t + (2 * i + j) * step
                self.p.feet[side].step(on, on + step * 1.05, at + [0, k * .13 * h], .035 + .03 * r.random())
        self.place, self.walked = to, end

    def _pick(self, t):
        """Bends down for a ball and comes up again."""
        r, b, p = self.rng, self.build, self.p
        down, up = Pulse.span(t, t + .9), Pulse.span(t + 1.1, t + 2.2)
        y = p.pelvis.goal.copy()
        p.pelvis.to(y * [1, .74, 1] - [.12, 0, 0], down)
        p.lean.to([r.uniform(.8, 1.4), r.uniform(-.1, .1)], down)
        p.held.to(0, down)
        p.free.to(np.array([.55, -.75, .1]) * b.arm, down)
        p.pelvis.to(y, up)
        p.lean.to([.12, 0], up)
        p.free.to(np.array([.45, -.55, .1]) * b.arm, up)
        p.held.to(1, Pulse.span(t + 1.6, t + 2.5))
        return t + 2.6

    def _half(self, t):
        """Feels a stroke slowly, without a ball: half the way at a quarter of the speed."""
        r, p, b = self.rng, self.p, self.build
        side = r.choice([1, -1])
        p.held.to(0, Pulse.span(t, t + .5))
        for on, off, yaw, w, u in ((0, .9, 40, (.30, -.45, .30 * side - .1), (.3, .6, .7 * side)),
                                   (1.0, 2.0, 10, (.60, -.45, .15 * side), (.5, .1, .85 * side))):
            pulse = Pulse.span(t + on, t + off, .22)
            turn, flexion, rod = arm_pose(b, np.array(w) * b.arm, unit(np.array(u)), np.array([-.3, -1, .4]))
            p.humerus.to(turn, pulse), p.elbow.to(flexion, pulse), p.rod.to(rod, pulse)
            p.yaw_shoulders.to(np.radians(yaw) * side, pulse), p.yaw_hips.to(np.radians(yaw) * side * .6, pulse)
        back = Pulse.span(t + 2.1, t + 3.0)
        self._arm_ready(back)
        p.yaw_shoulders.to(0, back), p.yaw_hips.to(0, back)
        p.held.to(1, Pulse.span(t + 2.4, t + 3.0))
        return t + 3.1

    def _sway(self, t):
        """Rocks from foot to foot, twirling the racket a little."""
        r, p, h = self.rng, self.p, self.build.stature
        for i in range(4):
            k = (-1) ** i
            on = t + i * .4
            p.pelvis.to([self.place[0], p.pelvis.goal[1], self.place[1] + (k * .05 * h if i < 3 else 0)], Pulse.span(on, on + .5))
            p.rod.to(unit(p.rod.goal.apply([1.0, 0, 0]) + .12 * r.standard_normal(3)), Pulse.span(on, on + .45))
        self._arm_ready(Pulse.span(t + 1.5, t + 2.1))
        return t + 2.2

    # --- a stroke ----------------------------------------------------------

    def _stroke(self, stroke, t):
        r, h = self.rng, self.build.stature
        ready = r.uniform(.7, 1.2)
        for _ in range(24):
            s = Swing(self.p, stroke, self.level, 0.0, r, self.habits)
            s.at = t + ready + s.back + .35 + (.55 if stroke == SERVE else 0)
            hit = Hit(stroke, s.at)
            self.saved, place = self.p, self.place
            self.p = self.p.copy()
            s.player = self.p
            self._prepare(s, hit, t)
            back = s.back
            q = s.play()
            if q is not None:
                s.at += max(0, s.span - .35) + s.back - back
                hit.at = s.at
                self.p = self.saved.copy()
                s.player = self.p
                self._prepare(s, hit, t)
                self.p, go = s.before(s.span)
                break
            self.p, self.place = self.saved, place
            self.habits.pop(stroke)
        else:
            raise RuntimeError("no swing of this kind comes up to speed")
        self._other_hand(s)
        self._drive(s)
        if stroke == SERVE:
            self._toss(s, hit)
        self._blow(s, hit)
        self.hits.append(hit)
        return self._recover(s)

    def _prepare(self, s, hit, t):
        """Split step and feet; a serve's stance."""
        r, p, h = self.rng, s.player, self.build.stature
        start = s.at - .3 - s.back
        p.look.to(r.uniform(-.05, .05), Pulse.span(t, t + .3))
        if s.stroke == SERVE:
            on = Pulse.span(t, t + .9)
            p.yaw_shoulders.to(r.uniform(.9, 1.35), on), p.yaw_hips.to(r.uniform(.9, 1.35), on)
            p.feet["left"].step(t, t + .4, self.place + [.18 * h, -.02 * h])
            p.feet["right"].step(t + .3, t + .7, self.place + [-.12 * h, .05 * h])
            return
        if r.random() < .75:
            land = start + r.uniform(-.12, .06)
            p.hops.append((land - r.uniform(.24, .34), land, r.uniform(.03, .09), r.uniform(.02, .06)))

    def _other_hand(self, s):
        p, b, at, r = self.p, self.build, s.at, self.rng
        start = at - s.span
        if s.stroke == TWO_HANDED:
            p.where.to(b.top_hold, Pulse.span(start - .95 * s.back, start - .45 * s.back))
            return
        off = Pulse.span(start - .75 * s.back, start - .2 * s.back)
        late = Pulse.span(start - .1 * s.back, at + .02)
        if s.stroke in BACKHANDS:
            late = Pulse.span(start - .05 * s.back, start + .6 * s.span)
            p.held.to(0, late)
            p.free.to(np.array([-.15, -.72, -.45]) * b.arm, Pulse.span(start, at + .1))
            return
        p.held.to(0, off)
        if s.stroke == OVERHEAD:
            p.free.to(np.array([.45, .70, -.10]) * b.arm, off)
        elif s.stroke != SERVE:
            p.free.to((np.array([.72, -.20, .35]) + .1 * r.standard_normal(3)) * b.arm, off)
        p.free.to(np.array([.36, -.40, .22]) * b.arm, late)

    def _drive(self, s):
        """Legs: load while the racket goes back, push up and into the ball."""
        p, r, h, at = self.p, self.rng, self.build.stature, s.at
        start, k = at - s.span, (-1 if s.stroke in BACKHANDS else 1)
        load = Pulse.span(start - .8 * s.back, start - .05 * s.back)
        push = Pulse.through(start - .1 * s.back, at, r.uniform(.75, .92), .3)
        deep = {SERVE: .435, OVERHEAD: .47}.get(s.stroke, r.uniform(.45, .475) + .015 * (4 - self.level) / 3)
        x, z = self.place
        p.pelvis.to([x - .03 * h, deep * h, z + k * .04 * h], load)
        high = {SERVE: .525, OVERHEAD: .515}.get(s.stroke, r.uniform(.475, .50))
        p.pelvis.to([x + (.13 if s.stroke in OVER else r.uniform(.03, .11)) * h, high * h, z + k * .02 * h], push)
        p.look.to(k * r.uniform(.2, .7) if s.stroke not in OVER else .2, Pulse.span(start - .1, at - .02))
        if s.stroke in OVER:
            if self.level > 1:
                p.hops.append((at - r.uniform(.10, .16), at + r.uniform(.15, .24), r.uniform(.04, .16), r.uniform(.02, .05)))
            return
        if r.random() < .7:  # the front foot steps in, square or closed; else the stance stays open
            front = "left" if k > 0 else "right"
            on = start - r.uniform(.35, .6) * s.back
            p.feet[front].step(on, on + .32, self.place + np.array([.22, -k * r.uniform(-.04, .10)]) * h, .05)

    def _toss(self, s, hit):
        """The left arm lifts the ball; it leaves at the arm's fastest rise and flies freely
        into the strings. The lift's length is set so that hand and ball part at one speed."""
        p, b, r = self.p, self.build, self.rng
        up = r.uniform(.72, .98)
        hit.release = s.at - up
        head = self._head(p, np.array([s.at]))[0]
        free = p.free.copy()
        low, high = .16, .8
        for _ in range(12):
            d = .5 * (low + high)
            p.free = free.copy()
            tuck, way = p.free.parts[-1][2].pop()  # comes again, after the toss
            p.free.goal = p.free.goal - way
            p.free.to(np.array([.52, -.62, .25]) * b.arm, Pulse.span(hit.release - 1.2, hit.release - .6 * d - .05))
            p.free.to(np.array([.50, .78, .02]) * b.arm, Pulse.span(hit.release - .45 * d, hit.release + .55 * d, .2))
            p.free.to(np.array([.36, -.40, .22]) * b.arm, tuck)
            h = p.points(hit.release + np.array([-1e-3, 0, 1e-3]))["left_fist"]
            need = (head[1] - h[1, 1] + .5 * G * up * up) / up
            low, high = (d, high) if (h[2, 1] - h[0, 1]) / 2e-3 > need else (low, d)

    def _head(self, p, t):
        q = p.points(t)
        return .5 * (q["racket_tip"] + q["racket_throat"])

    def _blow(self, s, hit):
        """Ball and racket meet; the arm's and the racket's courses are cut."""
        p, b, r, at = self.p, self.build, self.rng, s.at
        q = p.points(at - STEP * np.arange(3))
        u = unit(q["racket_tip"] - q["racket_butt"])
        def rate(x):
            return (3 * x[0] - 4 * x[1] + x[2]) / (2 * STEP)
        head = .5 * (q["racket_tip"] + q["racket_throat"])
        off = r.normal(0, .025)  # along the string bed, m
        spot = head[0] + off * u[0]
        v = rate(.5 * (q["racket_tip"] + q["racket_throat"])) + off * rate(u)
        v_in = self._incoming(s.stroke, hit, spot)
        rise = np.radians(r.uniform(*{SERVE: (-7, -2), OVERHEAD: (-14, -6)}.get(s.stroke, (2, 11))))
        way = np.array([np.cos(rise), np.sin(rise), r.normal(0, .1)])
        n = unit((4 + 1.4 * np.linalg.norm(v)) * unit(way) - v_in)  # the blow that sends the ball that way
        # Racket and what the hand adds to it, about their common centre of mass.
        m, hand = r.uniform(.29, .335), r.uniform(.8, 2.6)
        c = (m * .33 + hand * b.hold) / (m + hand)
        inertia = r.uniform(.014, .017) + m * (.33 - c) ** 2 + hand * (b.hold - c) ** 2 + r.uniform(.02, .11) * {TWO_HANDED: 1.5, 6: 2, 7: 2}.get(s.stroke, 1)
        arm = (spot - q["racket_butt"][0]) @ u[0] - c
        heavy = 1 / (1 / (m + hand) + arm ** 2 / inertia)
        e = r.uniform(.60, .75)
        j = (1 + e) * max(2.0, (v - v_in) @ n) / (1 / BALL + 1 / heavy)
        v_out = v_in + j / BALL * n
        spin = -arm * j / inertia * np.cross(u[0], n)  # change of the racket's rate of turning
        shift = -j / (m + hand) * n + np.cross(spin, (b.hold - c) * u[0])  # of the fist's velocity
        axes, _, _ = p.trunk(np.array([at]))
        lever = q["right_wrist"][0] - q["right_shoulder"][0]
        swing = np.cross(lever, shift) / (lever @ lever)
        fore = unit(q["right_wrist"][0] - q["right_elbow"][0])
        hinge = (axes[0] @ p.humerus(np.array([at])).as_matrix()[0])[:, 2]
        frame = np.stack([fore, np.cross(hinge, fore), hinge], -1)
        f = s.follow
        turn, flexion, rod = arm_pose(b, f["w"] * b.arm, f["u"], f["hint"])
        slow = r.uniform(6.5, 10)
        p.humerus.cut(at, turn, slow, axes[0].T @ swing, s.dwell)
        p.elbow.cut(at, flexion, slow * 1.05)
        p.rod.cut(at, rod, slow * r.uniform(1.0, 1.3), frame.T @ (spin - swing), s.dwell)
        p.yaw_shoulders.to(s.yaw[4], Pulse.span(at - .02, at + r.uniform(.4, .6)))
        p.yaw_hips.to(s.yaw[5], Pulse.span(at - .02, at + r.uniform(.35, .55)))
        p.lean.to([.14, 0], Pulse.span(at + .05, at + .6))
        hit.loss = 1 - np.linalg.norm(rate(q["racket_tip"]) + shift + np.cross(spin, (b.racket - b.hold) * u[0])) / np.linalg.norm(rate(q["racket_tip"]))
        self._fly(s, hit, spot + RADIUS * n, v_in, v_out)

    def _incoming(self, stroke, hit, spot):
        r = self.rng
        if stroke == SERVE:
            up = hit.at - hit.release
            h = self.p.points(np.array([hit.release]))["left_fist"][0]
            v0 = (spot - h + [0, .5 * G * up * up, 0]) / up
            return v0 - [0, G * up, 0]
        if stroke == OVERHEAD:
            return np.array([-r.uniform(3, 6), -r.uniform(6, 10), r.uniform(-.8, .8)])
        if stroke in VOLLEYS:
            return np.array([-r.uniform(5, 8) - r.uniform(1, 3) * self.level, r.uniform(-2.5, 1), r.uniform(-2, 2)])
        return np.array([-r.uniform(5, 8) - r.uniform(.5, 2) * self.level, r.uniform(-3, 1.5), r.uniform(-2, 2)])

    def _fly(self, s, hit, spot, v_in, v_out):
        """The ball's course: before and after the blow, a millisecond apart."""
        before, after = (int(1000 * self.rng.uniform(.6, 1.1)), 600)
        if s.stroke == SERVE:
            back = int(1000 * (hit.at - hit.release))
            tau = -np.arange(1, back + 1)[:, None] * 1e-3
            fall = spot + v_in * tau - .5 * np.array([0, G, 0]) * tau ** 2
            held = self.p.points(hit.release - np.arange(1, 700) * 1e-3)["left_fist"]
            past = np.concatenate([fall, held])
        else:
            past = flight(spot, v_in, -1e-3, before, bounce=s.stroke not in VOLLEYS and s.stroke != OVERHEAD)
        hit.ball = (hit.at - 1e-3 * len(past), np.concatenate([past[::-1], spot[None], flight(spot, v_out, 1e-3, after)]))

    def _recover(self, s):
        p, r, h, b, at = self.p, self.rng, self.build.stature, self.build, s.at
        on = at + r.uniform(.55, .8)
        end = on + r.uniform(.6, .9)
        pulse = Pulse.span(on, end)
        self._arm_ready(pulse)
        p.yaw_shoulders.to(0, pulse), p.yaw_hips.to(0, pulse)
        p.lean.to([.12, 0], pulse)
        p.free.to(np.array([.45, -.55, .1]) * b.arm, pulse)
        p.held.to(1, Pulse.span(on + .2, end + .1))
        p.where.to(b.throat, Pulse.span(end - .1, end + .3))
        p.pelvis.to([self.place[0], .50 * h, self.place[1]], pulse)
        for i, (side, k) in enumerate((("left", -1), ("right", 1))):
            p.feet[side].step(on + .3 * i, on + .3 * i + .33, self.place + [0, k * .12 * h], .05)
        return end + .2
