"""The eight strokes as postures and timing.

Postures are invented, by eye, from common practice (no source): they only have to
look like tennis, and must not look like anyone else's simulator. A wrist is given
from the hitting shoulder in arm lengths: (forward, up, right) of the trunk; the
racket's axis likewise. At contact both are in court axes (X, Y, Z). All for a
right-hander.
"""
import numpy as np

from body import DEG, arm_pose, unit
from tracks import Pulse

FOREHAND, TWO_HANDED, ONE_HANDED, SLICE, SERVE, FH_VOLLEY, BH_VOLLEY, OVERHEAD = range(1, 9)
NAMES = ("", "FOREHAND", "TWO_HANDED_BACKHAND", "ONE_HANDED_BACKHAND", "SLICE_BACKHAND", "SERVE",
         "FOREHAND_VOLLEY", "BACKHAND_VOLLEY", "OVERHEAD")
BACKHANDS, OVER, VOLLEYS = {2, 3, 4, 7}, {5, 8}, {6, 7}
READY = dict(w=(.47, -.50, -.34), u=(.62, .70, -.30), hint=(-.4, -1, .5))

# turn: shoulders' and hips' largest yaw, at contact, after; keys: the arm's postures
# before the forward swing; contact, follow: the arm's last two.
STROKES = {
    FOREHAND: dict(
        yaw=((84, 108), (42, 68), (8, 38), (-8, 18), (-58, -30), (-42, -18)), lean=((.05, -.04), (.14, -.06)),
        keys=[dict(w=(.42, -.20, -.02), u=(.30, .92, .10), hint=(-.4, -.8, .7)),
              dict(w=(.18, -.16, .78), u=(.25, .62, .72), hint=(-.5, -.7, .6)),
              dict(w=(.16, -.74, .62), u=(-.42, -.34, .86), hint=(-.8, -.5, .5))],
        contact=dict(w=(.62, -.48, .44), u=(.03, -.10, 1.0), hint=(-.7, -.7, .2)),
        follow=dict(w=(.48, .12, -.62), u=(-.55, .10, -.80), hint=(.3, -.2, 1)),
        speed=((8.5, 14), (13, 19), (18, 26), (24, 33)), back=(.5, .9)),
    TWO_HANDED: dict(
        yaw=((-108, -76), (-75, -45), (-36, -8), (-18, 8), (22, 52), (15, 40)), lean=((.06, .05), (.15, .06)),
        keys=[dict(w=(.45, -.36, -.50), u=(.25, .85, -.40), hint=(-.2, -1, .2)),
              dict(w=(.36, -.38, -.80), u=(-.05, .68, -.72), hint=(.2, -1, .1)),
              dict(w=(.40, -.76, -.62), u=(-.48, -.36, -.82), hint=(.2, -1, .1))],
        contact=dict(w=(.46, -.58, -.50), u=(.08, -.12, -1.0), hint=(-.3, -.9, .5)),
        follow=dict(w=(.42, .18, -.05), u=(-.60, .25, .72), hint=(0, -.5, 1)),
        speed=((8, 13), (12, 18), (17, 23), (21, 29)), back=(.5, .85)),
    ONE_HANDED: dict(
        yaw=((-132, -104), (-95, -62), (-82, -52), (-66, -38), (-48, -15), (-42, -15)), lean=((.08, .05), (.16, .02)),
        keys=[dict(w=(.42, -.22, -.60), u=(.20, .90, -.35), hint=(0, -1, .4)),
              dict(w=(.36, -.05, -.80), u=(-.05, .80, -.55), hint=(.5, -.6, .4)),
              dict(w=(.40, -.74, -.60), u=(-.45, -.34, -.85), hint=(.5, -.7, .3))],
        contact=dict(w=(.60, -.55, -.34), u=(.22, -.08, -1.0), hint=(-.2, -.9, .5)),
        follow=dict(w=(.55, .48, .52), u=(.20, .85, .40), hint=(-.3, -.8, .5)),
        speed=((9, 14), (13, 19), (18, 25), (23, 31)), back=(.55, .9)),
    SLICE: dict(
        yaw=((-120, -92), (-85, -55), (-82, -52), (-70, -40), (-66, -35), (-55, -30)), lean=((.08, .05), (.14, .03)),
        keys=[dict(w=(.42, -.15, -.58), u=(.15, .92, -.30), hint=(0, -1, .4)),
              dict(w=(.38, -.08, -.74), u=(-.30, .70, -.45), hint=(.5, -.6, .5))],
        contact=dict(w=(.58, -.58, -.32), u=(.18, .18, -.96), hint=(-.2, -.9, .5)),
        follow=dict(w=(.72, -.35, .25), u=(.50, .45, .30), hint=(-.3, -.8, .5)),
        speed=((6, 10), (9, 13), (12, 17), (16, 22)), back=(.45, .8)),
    FH_VOLLEY: dict(
        yaw=((32, 60), (15, 38), (18, 40), (5, 25), (5, 30), (0, 20)), lean=((.14, -.02), (.20, -.02)),
        keys=[dict(w=(.50, -.22, .22), u=(.05, .85, .45), hint=(-.4, -1, .6))],
        contact=dict(w=(.74, -.30, .32), u=(.02, .58, .80), hint=(-.5, -.9, .3)),
        follow=dict(w=(.82, -.42, .05), u=(.42, .52, .65), hint=(-.5, -.9, .3)),
        speed=((4, 7), (5, 9), (7, 12), (9, 15)), back=(.38, .65)),
    BH_VOLLEY: dict(
        yaw=((-72, -40), (-48, -22), (-55, -28), (-38, -15), (-45, -15), (-30, -10)), lean=((.14, .03), (.20, .02)),
        keys=[dict(w=(.46, -.16, -.55), u=(-.10, .86, -.45), hint=(0, -1, .5))],
        contact=dict(w=(.70, -.32, -.36), u=(.06, .52, -.82), hint=(-.3, -.9, .4)),
        follow=dict(w=(.80, -.40, -.08), u=(.48, .50, -.50), hint=(-.3, -.9, .4)),
        speed=((4, 7), (5, 9), (7, 12), (9, 15)), back=(.38, .65)),
    SERVE: dict(
        yaw=((88, 122), (68, 100), (8, 36), (0, 24), (-60, -25), (-45, -15)), lean=((-.16, -.10), (.26, -.30)),
        keys=[dict(w=(.25, -.85, .30), u=(.10, -.75, .55), hint=(-.8, -.3, .5)),
              dict(w=(-.02, .28, .60), u=(-.10, .93, -.30), hint=(-.2, -.7, 1)),
              dict(w=(-.16, .40, .30), u=(-.30, -.92, .22), hint=(.2, .4, 1))],
        contact=dict(w=(.26, .90, .12), u=(.14, .97, .06), hint=(.2, -.3, 1)),
        follow=dict(w=(.50, -.75, -.55), u=(-.15, -.85, -.50), hint=(.2, -.4, 1)),
        speed=((14, 22), (21, 30), (29, 38), (36, 46)), back=(1.0, 1.5)),
    OVERHEAD: dict(
        yaw=((72, 108), (52, 88), (6, 34), (0, 22), (-50, -20), (-38, -12)), lean=((-.12, -.08), (.22, -.22)),
        keys=[dict(w=(.20, .18, .48), u=(.05, .96, .05), hint=(-.2, -.7, 1)),
              dict(w=(-.14, .38, .32), u=(-.32, -.90, .20), hint=(.2, .4, 1))],
        contact=dict(w=(.30, .88, .12), u=(.18, .96, .06), hint=(.2, -.3, 1)),
        follow=dict(w=(.55, -.55, -.45), u=(.05, -.80, -.55), hint=(.2, -.4, 1)),
        speed=((12, 19), (18, 26), (25, 34), (32, 41)), back=(.7, 1.1)),
}


# Elevation of the racket head's way over the last 40 ms, degrees: drives rise (18.6 ± 4.3 in
# a laboratory's forehands, Kwon 2017), slices and volleys go level or down (common practice).
SLOPES = {FOREHAND: (4, 45), TWO_HANDED: (4, 45), ONE_HANDED: (4, 45), SLICE: (-35, -5), FH_VOLLEY: (-35, 3),
          BH_VOLLEY: (-35, 3), SERVE: (-10, 60), OVERHEAD: (-25, 60)}


class Swing:
    """One stroke of one player with his habits, added to the player's courses."""

    def __init__(self, player, stroke, level, at, rng, habits):
        self.player, self.stroke, self.at, self.rng = player, stroke, at, rng
        self.spec, self.level = STROKES[stroke], level
        self.habit = habits.setdefault(stroke, self._habit())
        r = rng.uniform
        pick = lambda pair: DEG * np.clip(pair[0] + (pair[1] - pair[0]) * (self.habit["turn"] + .12 * rng.standard_normal()), min(pair), max(pair))
        self.yaw = [pick(pair) for pair in self.spec["yaw"]]
        ease = .75 + .25 * level / 4  # beginners turn and bend less
        for k in (0, 1):
            self.yaw[k] *= min(1, ease + r(-.05, .1))
        a, b = self.spec["speed"][level - 1]
        small = np.clip(player.build.stature / 1.75, .78, 1.05)
        self.speed = (a + (b - a) * np.clip(self.habit["pace"] + .15 * rng.standard_normal(), 0, 1)) * small
        self.back = r(*self.spec["back"]) * (1.1 - .05 * level)
        self.keys = [self._posture(k, f"k{i}") for i, k in enumerate(self.spec["keys"])]
        self.contact = self._posture(self.spec["contact"], "contact", height=True)
        self.follow = self._posture(self.spec["follow"], "follow")
        self.dwell = float(rng.choice([0, r(.003, .0055), r(.004, .005)]))

    def _habit(self):
        """What a player does alike in all strokes of a kind."""
        r = self.rng
        n = ["k0", "k1", "k2", "contact", "follow"]
        return dict(turn=r.uniform(), pace=r.uniform(.1, .9), w={k: .07 * r.standard_normal(3) for k in n},
                    u={k: .13 * r.standard_normal(3) for k in n},
                    lead=r.uniform(.7, 1.3), sigma=r.uniform(.18, .42, 6),
                    share=np.clip(np.array([.80, .73, .55, .54, .38, .8]) + .07 * r.standard_normal(6), .38, .93))

    def _posture(self, key, name, height=False):
        r, h = self.rng, self.habit
        w = np.array(key["w"]) + h["w"][name] + .025 * r.standard_normal(3)
        u = unit(np.array(key["u"]) + h["u"][name] + .04 * r.standard_normal(3))
        if height and self.stroke not in OVER:  # balls come at all heights
            lift = r.uniform(-.22, .34)
            w[1] += lift
            u = unit(u + [0, .45 * lift, 0])
        most = .97 if self.level > 1 or self.stroke in OVER else .92
        n = np.linalg.norm(w)
        return dict(w=w * min(1, most / n), u=u, hint=np.array(key["hint"]) + .12 * r.standard_normal(3))

    def before(self, span):
        """A copy of the player with all moves up to contact, forward swing of length span, s."""
        p, t, h, b = self.player.copy(), self.at, self.habit, self.player.build
        start, back = t - span, self.back
        turn = Pulse.span(start - back, start - .25 * back, h["sigma"][5])
        p.yaw_shoulders.to(self.yaw[0], turn)
        p.yaw_hips.to(self.yaw[1], Pulse.span(start - back * .97, start - .22 * back, h["sigma"][5]))
        p.lean.to(self.spec["lean"][0], Pulse.span(start - .9 * back, start - .1 * back))
        # The arm's postures follow one another, each under way before the last is done.
        n = len(self.keys)
        edges = np.linspace(0, 1, n + 1)
        for i, key in enumerate(self.keys):
            on = start - back * (1 - edges[i] + (.10 if i else 0))
            off = start - back * (1 - edges[i + 1]) + (.25 * min(span, .3) if i == n - 1 else .12 * back)
            self._arm_to(p, key, Pulse.span(on, off), Pulse.span(on, off, .35))
        # Forward: hips, shoulders, upper arm, elbow, racket.
        lead, s, share = h["lead"], h["sigma"], h["share"]
        go = [Pulse.through(t - span * k, t, share[i], s[i]) for i, k in
              enumerate((1 + .30 * lead, 1 + .15 * lead, 1.0, .9, 1 - .40 * lead, 1.2))]
        p.yaw_hips.to(self.yaw[3], go[0])
        p.yaw_shoulders.to(self.yaw[2], go[1])
        p.lean.to(self.spec["lean"][1], go[5])
        axes, _, _ = p.trunk(np.array([t]))
        w = axes[0].T @ (self.contact["w"] * b.arm)
        u, hint = axes[0].T @ self.contact["u"], axes[0].T @ self.contact["hint"]
        r, flexion, rod = arm_pose(b, w, u, hint)
        p.humerus.to(r, go[2])
        p.elbow.to(flexion, go[3])
        p.rod.to(rod, go[4])
        return p, go

    def _arm_to(self, p, key, pulse, late):
        r, flexion, rod = arm_pose(p.build, key["w"] * p.build.arm, key["u"], key["hint"])
        p.humerus.to(r, pulse)
        p.elbow.to(flexion, pulse)
        p.rod.to(rod, late)

    def play(self):
        """Finds the forward swing's length for the wanted tip speed, and a take-back that is
        not hurried; returns the player with the whole stroke, or None where there is none."""
        low, high = .11, 1.3
        for _ in range(9):
            span = np.sqrt(low * high)
            p, _ = self.before(span)
            q = p.points(self.at - np.array([0, 1e-4]))
            v = np.linalg.norm(q["racket_tip"][0] - q["racket_tip"][1]) / 1e-4
            low, high = (span, high) if v > self.speed else (low, span)
        if not .9 < v / self.speed < 1.1:
            return None
        for _ in range(7):
            t = self.at - np.arange(0, span + 1.5 * self.back, .015)
            tip = np.linalg.norm(np.gradient(p.points(t)["racket_tip"], -.015, axis=0), axis=1)
            if tip[t < self.at - span].max() < np.clip(.4 * v, 4, 8):
                break
            self.back *= 1.25
            p, _ = self.before(span)
        else:
            return None
        if not self._sound(p, span, v):
            return None
        self.span = span
        return p

    def _sound(self, p, span, v):
        """No tip much faster on its way than at contact (studies find the peak within a
        frame or two of it); the second hand of a two-hander reaches the handle."""
        t = self.at - np.arange(0, span + .1, .004)
        way = p.points(t)
        tip = np.linalg.norm(np.gradient(way["racket_tip"], .004, axis=0), axis=1)
        forward = tip[t > self.at - span]
        if forward.max() > 1.2 * v:
            return False
        q = .5 * (way["racket_tip"] + way["racket_throat"])
        u = unit((q[0] - q[10]) * [1, 0, 1])
        hand = np.gradient(way["right_fist"], -.004, axis=0) @ u
        if (q[0] - q[1])[0] < .35 * np.linalg.norm(q[0] - q[1]) or hand[0] < .3 * hand[t > self.at - span].max():
            return False  # the racket does not go toward the net, or the hand stands still by then
        d = q[0] - q[10]
        low, high = SLOPES[self.stroke]
        if not low < np.degrees(np.arctan2(d[1], np.hypot(d[0], d[2]))) < high:
            return False
        if self.stroke != TWO_HANDED:
            return True
        p.where.to(p.build.top_hold, Pulse.span(self.at - span - .6, self.at - span - .4))
        p.points(np.linspace(self.at - span, self.at, 20))
        return p.reached.max() < .015
