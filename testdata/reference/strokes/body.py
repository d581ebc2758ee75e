"""A jointed player with a racket: from courses of joint angles to points.

Court axes, metres: X toward the net, Y up, Z to the right of a player who faces
the net. The player is right-handed here; a left-hander is the mirror image, made
at the end. Segment lengths are Drillis and Contini's shares of the stature as in
Winter's table, each varied from player to player.
"""
import numpy as np
from scipy.spatial.transform import Rotation

from tracks import Aim, Track, Turn

DEG = np.pi / 180
ANKLE = .039  # of the stature: height of the ankle

SIDES = ("left", "right")


def unit(v):
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def dot(a, b):
    return np.sum(a * b, axis=-1, keepdims=True)


class Build:
    """Lengths of a player's segments and of the racket, metres."""

    def __init__(self, rng, stature):
        def share(mean, sd):
            return stature * mean * (1 + sd * np.clip(rng.standard_normal(), -2, 2))
        self.stature = stature
        self.upper_arm, self.forearm = share(.186, .04), share(.146, .04)
        self.thigh, self.shank = share(.245, .03), share(.246, .03)
        self.trunk = share(.288, .03)
        self.half_shoulders = share(.129 * .88, .05)  # joint centres lie inside the acromia
        self.half_hips = share(.0955 * .6, .08)       # and the hips' inside the trochanters
        self.palm = share(.047, .08)                  # wrist to the middle of the fist
        self.mix = rng.uniform(.35, .75)              # how far the palm goes along the racket
        self.hold = rng.uniform(.07, .12)             # m from the butt: middle of the fist
        self.top_hold = self.hold + rng.uniform(.08, .11)
        self.racket = .685 if stature > 1.5 else (.66 if stature > 1.42 else .635)
        self.throat = rng.uniform(.32, .36) * self.racket / .685  # m from the butt: the string bed is some .34 m long
        self.arm = self.upper_arm + self.forearm
        self.restless = np.random.default_rng(rng.integers(1 << 32))
        self.glide = rng.uniform(.01, .035) * stature  # m: how far the shoulder goes with the arm


def frame_of(yaw, lean, tilt):
    """Trunk axes (forward, up, right) as (n, 3, 3) columns. yaw: rad from X toward Z;
    lean: (n, 2) slope of the spine along X and Z; tilt: rad, right shoulder up."""
    up = unit(np.stack([lean[:, 0], np.ones(len(yaw)), lean[:, 1]], -1))
    right = np.stack([-np.sin(yaw), np.zeros_like(yaw), np.cos(yaw)], -1)
    right = unit(right - dot(right, up) * up)
    right, up = (np.cos(tilt)[:, None] * right + np.sin(tilt)[:, None] * up,
                 np.cos(tilt)[:, None] * up - np.sin(tilt)[:, None] * right)
    return np.stack([np.cross(up, right), up, right], -1)


def solve_limb(reach, upper, lower, hint):
    """Upper segment's end of a two-segment limb from 0 to reach, bent toward hint.
    A reach beyond the limb is drawn in softly; returns (joint, end)."""
    d = np.linalg.norm(reach, axis=-1, keepdims=True)
    most = .998 * (upper + lower)
    over = d / most
    k = np.where(over > .94, .94 + .06 * np.tanh((over - .94) / .06), over) * most / np.maximum(d, 1e-9)
    end = reach * k
    d = np.linalg.norm(end, axis=-1, keepdims=True)
    axis = end / d
    along = (d * d + upper ** 2 - lower ** 2) / (2 * d)
    out = np.sqrt(np.maximum(upper ** 2 - along ** 2, 1e-8))
    side = unit(hint - dot(hint, axis) * axis)
    return along * axis + out * side, end


def arm_pose(build, wrist, u, hint):
    """Joint angles that put the wrist (trunk axes, from the shoulder joint) and the
    racket's axis u (trunk axes) there: humerus rotation, elbow flexion, u by the forearm."""
    elbow, end = (v[0] for v in solve_limb(wrist[None], build.upper_arm, build.forearm, hint[None]))
    a, f = unit(elbow), unit(end - elbow)
    n = unit(np.cross(a, f))
    b = np.cross(n, a)
    flexion = np.arctan2(f @ b, f @ a)
    r = Rotation.from_matrix(np.stack([a, b, n], -1))
    return r, flexion, np.array([u @ f, u @ np.cross(n, f), u @ n])


class Player:
    """All courses of one player. Angles in radians, yaw from X toward Z."""

    def __init__(self, build, place, facing):
        self.build = build
        h = build.stature
        self.pelvis = Track([place[0], .50 * h, place[1]])
        self.yaw_hips, self.yaw_shoulders = Track(facing), Track(facing)
        self.lean, self.tilt = Track([.12, 0]), Track(0)
        self.look = Track(0)
        self.humerus = self.elbow = self.rod = None    # hitting arm and racket, set by the first posture
        self.free = Track(np.array([.45, -.55, .1]) * build.arm)  # other wrist, trunk axes, from its shoulder
        self.held = Track(1.0)      # 1: the other hand is on the racket
        self.where = Track(build.throat)  # m from the butt, where it holds
        side = np.array([-np.sin(facing), np.cos(facing)])
        self.feet = {s: Foot(np.array(place) + k * .12 * h * side, ANKLE * h) for s, k in (("left", -1), ("right", 1))}
        self.hops = []              # (take-off, landing, feet's rise, pelvis's rise)
        r = build.restless          # nobody stands quite still
        self.sway = [(a, 2 * np.pi * r.uniform(.3, 1.2), r.uniform(0, 6.3)) for a in
                     (.008 * h, .004 * h, .012 * h, .02, .015, .012, .05, .05, .05)]

    def set_arm(self, wrist, u, hint):
        r, flexion, rod = arm_pose(self.build, wrist, u, hint)
        self.humerus, self.elbow, self.rod = Turn(r), Track(flexion), Aim(rod)

    def copy(self):
        c = object.__new__(Player)
        c.__dict__.update(self.__dict__)
        for k, v in self.__dict__.items():
            if isinstance(v, (Track, Turn)):
                setattr(c, k, v.copy())
        c.feet = {s: f.copy() for s, f in self.feet.items()}
        c.hops = list(self.hops)
        return c

    def rock(self, t, *which):
        """Slow small movements of pelvis (3), yaw, lean (2) and racket (3)."""
        return np.stack([a * np.sin(w * t + p) for a, w, p in (self.sway[i] for i in which)], -1)

    def hop(self, t):
        feet = hips = 0
        for t0, t1, rise, body in self.hops:
            s = np.clip((t - t0) / (t1 - t0), 0, 1)
            feet, hips = feet + 4 * rise * s * (1 - s), hips + body * np.sin(np.pi * s) ** 2
        return feet, hips

    def trunk(self, t):
        """Trunk axes, mid-hip, mid-shoulder."""
        lean = self.lean(t) + self.rock(t, 4, 5)
        axes = frame_of(self.yaw_shoulders(t)[:, 0] + self.rock(t, 3)[:, 0], lean, self.tilt(t)[:, 0])
        mid_hip = self.pelvis(t) + self.rock(t, 0, 1, 2)
        mid_hip[:, 1] += self.hop(t)[1]
        spine = unit(np.concatenate([lean[:, :1], np.ones((len(t), 1)), lean[:, 1:]], 1))
        return axes, mid_hip, mid_hip + self.build.trunk * spine

    def shoulder(self, t, axes, mid):
        """Right shoulder joint: it glides with the arm."""
        arm = self.humerus(t).as_matrix()[:, :, 0]
        glide = self.build.glide * arm * [1, .7, .3]
        return mid + np.einsum("nij,nj->ni", axes, glide) + self.build.half_shoulders * axes[:, :, 2]

    def points(self, t):
        """Every point at times t: {name: (n, 3)}."""
        t = np.atleast_1d(np.asarray(t, float))
        b, h = self.build, self.build.stature
        axes, mid_hip, mid = self.trunk(t)
        p = {}
        yaw = self.yaw_hips(t)[:, 0] + .7 * self.rock(t, 3)[:, 0]
        across = np.stack([-np.sin(yaw), .12 * self.tilt(t)[:, 0], np.cos(yaw)], -1)
        across = unit(across)
        p["left_hip"], p["right_hip"] = mid_hip - b.half_hips * across, mid_hip + b.half_hips * across
        # Hitting arm and racket, from shoulder to tip.
        p["right_shoulder"] = sr = self.shoulder(t, axes, mid)
        arm = axes @ self.humerus(t).as_matrix()
        flex = self.elbow(t)
        flex = .06 + np.logaddexp(0, (flex - .06) / .08) * .08  # no elbow bends backward
        f = np.cos(flex) * arm[:, :, 0] + np.sin(flex) * arm[:, :, 1]
        g = np.cross(arm[:, :, 2], f)
        rod = self.rod.at(t) + self.rock(t, 6, 7, 8)
        u = unit(rod[:, :1] * f + rod[:, 1:2] * g + rod[:, 2:] * arm[:, :, 2])
        p["right_elbow"] = sr + b.upper_arm * arm[:, :, 0]
        p["right_wrist"] = p["right_elbow"] + b.forearm * f
        fist = p["right_wrist"] + b.palm * unit((1 - b.mix) * f + b.mix * u)
        p["racket_butt"] = butt = fist - b.hold * u
        p["racket_throat"], p["racket_tip"] = butt + b.throat * u, butt + b.racket * u
        p["right_fist"] = fist
        # The other arm.
        p["left_shoulder"] = sl = mid - b.half_shoulders * axes[:, :, 2]
        free = sl + np.einsum("nij,nj->ni", axes, self.free(t))
        on = butt + self.where(t) * u - b.palm * .6 * unit(butt + self.where(t) * u - sl)
        w = np.clip(self.held(t), 0, 1)
        hint = np.einsum("nij,j->ni", axes, np.array([-.35, -1.0, -.45]))
        elbow, wrist = solve_limb(free + w * (on - free) - sl, b.upper_arm, b.forearm, hint)
        p["left_elbow"], p["left_wrist"] = sl + elbow, sl + wrist
        p["left_fist"] = p["left_wrist"] + b.palm * unit(p["left_wrist"] - p["left_elbow"])
        self.reached = np.linalg.norm(p["left_wrist"] - (free + w * (on - free)), axis=1)
        self._legs(p, t, yaw)
        self._head(p, t, axes, mid)
        return p

    def _legs(self, p, t, yaw):
        b, h = self.build, self.build.stature
        for side in SIDES:
            foot = self.feet[side]
            ankle = foot(t)
            ankle[:, 1] += self.hop(t)[0]
            fy = yaw + (.25 if side == "right" else -.25)
            ahead = np.stack([np.cos(fy), .15 * np.ones_like(fy), np.sin(fy)], -1)
            hip = p[side + "_hip"]
            knee, end = solve_limb(ankle - hip, b.thigh, b.shank, ahead)
            p[side + "_knee"], p[side + "_ankle"] = hip + knee, hip + end  # a stretched leg lifts its heel
            flat = ahead * [1, 0, 1]
            p[side + "_heel"] = p[side + "_ankle"] - .045 * h * flat / 1.8 - [0, .03 * h, 0]
            p[side + "_toe"] = p[side + "_ankle"] + .105 * h * flat - [0, .034 * h, 0]

    def _head(self, p, t, axes, mid):
        h = self.build.stature
        shoulders = self.yaw_shoulders(t)[:, 0]
        yaw = shoulders + 1.25 * np.tanh((self.look(t)[:, 0] - shoulders) / 1.25)  # the neck's range
        fwd = np.stack([np.cos(yaw), -.12 * np.ones_like(yaw), np.sin(yaw)], -1)
        right = np.stack([-np.sin(yaw), np.zeros_like(yaw), np.cos(yaw)], -1)
        up = unit(axes[:, :, 1] + [0, 1.5, 0])
        middle = mid + .105 * h * up
        p["left_ear"], p["right_ear"] = middle - .042 * h * right, middle + .042 * h * right
        p["left_eye"] = middle + .048 * h * fwd - .018 * h * right + .012 * h * up
        p["right_eye"] = middle + .048 * h * fwd + .018 * h * right + .012 * h * up
        p["nose"] = middle + .058 * h * fwd - .006 * h * up
        p["left_mouth"] = middle + .05 * h * fwd - .012 * h * right - .024 * h * up
        p["right_mouth"] = middle + .05 * h * fwd + .012 * h * right - .024 * h * up
        p["head_top"], p["neck"] = middle + .07 * h * up, mid + .01 * h * up


class Foot:
    """A foot that stands, and steps."""

    def __init__(self, at, level):
        self.at, self.level, self.steps = np.array(at, float), level, []

    def copy(self):
        f = Foot(self.at, self.level)
        f.steps = list(self.steps)
        return f

    def goal(self):
        return self.at + sum((d for _, _, d, _ in self.steps), np.zeros(2))

    def step(self, t0, t1, to, lift=.06):
        self.steps.append((t0, t1, np.asarray(to) - self.goal(), lift))

    def __call__(self, t):
        out = np.zeros((len(t), 3))
        out[:, [0, 2]], out[:, 1] = self.at, self.level
        for t0, t1, d, lift in self.steps:
            s = np.clip((t - t0) / (t1 - t0), 0, 1)
            m = s ** 3 * (10 - 15 * s + 6 * s * s)
            out[:, [0, 2]] += m[:, None] * d
            out[:, 1] += lift * np.sin(np.pi * s) ** 2
        return out
