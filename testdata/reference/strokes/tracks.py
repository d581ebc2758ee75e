"""Smooth courses of joint angles: pulses that add up, broken at impact.

A fast human movement is written as a sum of pulses whose speed is lognormal in
time (the kinematic theory of rapid movements, Plamondon 1995: the speed of a
movement made by a chain of many parts tends to a lognormal). Each pulse carries
a joint from one posture to the next; a stroke's forward pulses start pelvis first
and racket last. At impact a joint's course is cut: what follows is a critically
damped third-order return to the follow-through, which keeps angle, speed and
acceleration, and adds the jump of speed that the blow gives.
"""
import copy

import numpy as np
from scipy.spatial.transform import Rotation
from scipy.special import ndtr, ndtri

STEP = 2e-4  # s; spacing of the one-sided differences that read a course's state at a cut


class Pulse:
    """Share of a move done by time t: 0 before onset, rising to `final`.

    sigma is the lognormal's shape: .15 nearly symmetric, .5 quick start and long tail.
    """

    def __init__(self, onset, median, sigma, final=1.0):
        self.onset, self.median, self.sigma, self.final = onset, median, sigma, final

    @classmethod
    def span(cls, onset, end, sigma=.3):
        """A pulse that is 99 % done at end."""
        return cls(onset, (end - onset) / np.exp(2.326 * sigma), sigma)

    @classmethod
    def through(cls, onset, at, share, sigma):
        """A pulse that reaches its aim at `at` with only `share` of it spent, and goes on."""
        return cls(onset, (at - onset) / np.exp(sigma * ndtri(share)), sigma, 1 / share)

    def __call__(self, t):
        dt = np.maximum(np.asarray(t, float) - self.onset, 1e-12)
        return self.final * ndtr(np.log(dt / self.median) / self.sigma)


class Settle:
    """Third-order critically damped course from state (x, v, a) at t0 to aim.

    kick is a jump of speed, spread over `dwell` seconds (0: at once).
    """

    def __init__(self, t0, x, v, a, aim, rate, kick, dwell):
        self.t0, self.aim, self.rate, self.kick, self.dwell = t0, aim, rate, kick, dwell
        self.c = self._coefficients(x - aim, v, a)

    def _coefficients(self, x, v, a):
        w = self.rate
        return x, v + w * x, .5 * a + w * v + .5 * w * w * x

    def _blow(self, t):
        """Answer to a jump of speed of 1 at t = 0."""
        s = np.maximum(t, 0)
        return (s + self.rate * s * s) * np.exp(-self.rate * s)

    def __call__(self, t):
        s = np.asarray(t, float) - self.t0
        c0, c1, c2 = (np.atleast_1d(c) for c in self.c)
        e = np.exp(-self.rate * s)[:, None]
        x = self.aim + (c0 + c1 * s[:, None] + c2 * (s * s)[:, None]) * e
        if self.kick is None:
            return x
        if self.dwell == 0:
            blow = self._blow(s)
        else:  # force over the dwell as half a sine
            at = (np.arange(12) + .5) / 12
            weight = np.sin(np.pi * at)
            blow = sum(w * self._blow(s - k * self.dwell) for w, k in zip(weight / weight.sum(), at))
        return x + np.atleast_1d(self.kick) * blow[:, None]


class Track:
    """Course of a vector: a base and pulses, in parts that are cut at impacts."""

    def __init__(self, x0):
        self.goal = np.atleast_1d(np.array(x0, float))
        self.parts = [(-np.inf, self._still(self.goal), [])]

    @staticmethod
    def _still(x):
        return lambda t: np.repeat(x[None], len(t), 0)

    def to(self, aim, pulse):
        """Adds the move from where all earlier ones end to aim."""
        delta = np.atleast_1d(aim) - self.goal
        self.parts[-1][2].append((pulse, delta))
        self.goal = self.goal + delta * pulse.final

    def _sum(self, part, t):
        x = part[1](t)
        for pulse, delta in part[2]:
            x = x + pulse(t)[:, None] * delta
        return x

    def __call__(self, t):
        t = np.atleast_1d(np.asarray(t, float))
        which = np.searchsorted([p[0] for p in self.parts], t, side="left") - 1
        out = np.empty((len(t), len(self.goal)))
        for k in np.unique(which):
            out[which == k] = self._sum(self.parts[k], t[which == k])
        return out

    def cut(self, t, aim, rate, kick=None, dwell=0.0):
        """Ends the part at t; after it the course settles on aim."""
        x0, x1, x2, x3 = self._sum(self.parts[-1], t - STEP * np.arange(4))
        v = (11 * x0 - 18 * x1 + 9 * x2 - 2 * x3) / (6 * STEP)
        a = (2 * x0 - 5 * x1 + 4 * x2 - x3) / STEP ** 2
        aim = np.atleast_1d(np.array(aim, float))
        self.parts.append((t, Settle(t, x0, v, a, aim, rate, kick, dwell), []))
        self.goal = aim

    def copy(self):
        c = copy.copy(self)
        c.parts = [(t, base, list(pulses)) for t, base, pulses in self.parts]
        return c


class Turn:
    """Course of a rotation: pulses are turned on one after the other."""

    def __init__(self, r0):
        self.goal = r0
        self.parts = [(-np.inf, r0, None, [])]

    def _way(self, aim):
        return (aim * self.goal.inv()).as_rotvec()

    def to(self, aim, pulse):
        way = self._way(aim)
        self.parts[-1][3].append((pulse, way))
        self.goal = Rotation.from_rotvec(way * pulse.final) * self.goal

    def _product(self, part, t):
        _, start, settle, pulses = part
        r = start if settle is None else Rotation.from_rotvec(settle(t)) * start
        if settle is None:
            r = Rotation.from_quat(np.repeat(start.as_quat()[None], len(t), 0))
        for pulse, way in pulses:
            r = Rotation.from_rotvec(pulse(t)[:, None] * way) * r
        return r

    def __call__(self, t):
        t = np.atleast_1d(np.asarray(t, float))
        which = np.searchsorted([p[0] for p in self.parts], t, side="left") - 1
        out = np.empty((len(t), 4))
        for k in np.unique(which):
            out[which == k] = self._product(self.parts[k], t[which == k]).as_quat()
        return Rotation.from_quat(out)

    def cut(self, t, aim, rate, kick=None, dwell=0.0):
        r = self._product(self.parts[-1], t - STEP * np.arange(4))
        x = (r * r[0].inv()).as_rotvec()  # about the state at t, where it is small
        v = (11 * x[0] - 18 * x[1] + 9 * x[2] - 2 * x[3]) / (6 * STEP)
        a = (2 * x[0] - 5 * x[1] + 4 * x[2] - x[3]) / STEP ** 2
        self.goal = r[0]
        way = self._way(aim)
        self.parts.append((t, r[0], Settle(t, np.zeros(3), v, a, way, rate, kick, dwell), []))
        self.goal = Rotation.from_rotvec(way) * r[0]

    def copy(self):
        c = copy.copy(self)
        c.parts = [(t, start, settle, list(pulses)) for t, start, settle, pulses in self.parts]
        return c


class Aim(Turn):
    """Course of a direction: a Turn that takes the shortest way and leaves the roll free."""

    E = np.array([1.0, 0, 0])

    def __init__(self, u):
        super().__init__(shortest(self.E, np.asarray(u, float)))

    def _way(self, aim):
        return shortest(self.goal.apply(self.E), np.asarray(aim, float)).as_rotvec()

    def at(self, t):
        return self(t).apply(self.E)


def shortest(u, v):
    """Least rotation that brings u to v."""
    u, v = u / np.linalg.norm(u), v / np.linalg.norm(v)
    axis, c = np.cross(u, v), float(u @ v)
    s = np.linalg.norm(axis)
    if s < 1e-9:
        return Rotation.identity()
    return Rotation.from_rotvec(axis / s * np.arctan2(s, c))
