"""A driven tennis player: motion, ball and truth.

Commands to the body are minimum-jerk submovements (Flash & Hogan 1985) of pelvis,
shoulders and hand, started proximal to distal and added where they overlap. The racket
is a rigid pendulum on the hand: gravity, the hand's acceleration and a compliant wrist
turn it, so that lag and release come of themselves. Impact is a blow of 4 ms at the head.
Right-handers are simulated; a left-hander is the mirror image. Axes: X to the net, Y up,
Z right; metres, seconds, radians inside; the grid is 1 ms.
"""
import numpy as np

G = 9.81
DT = 1e-3
GRIP = 0.10     # m from the butt: the definition's grip point
STROKES = {"forehand": 1, "two_handed_backhand": 2, "one_handed_backhand": 3, "slice_backhand": 4,
           "serve": 5, "forehand_volley": 6, "backhand_volley": 7, "overhead": 8}
BACKHANDS = {2, 3, 4, 7}


def rad(d):
    return np.deg2rad(d)


def unit(v):
    return v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-12)


def dot(a, b):
    return np.sum(a * b, axis=-1)


def minjerk(s):
    s = np.clip(s, 0, 1)
    return s * s * s * (10 - 15 * s + 6 * s * s)


# Postures in the shoulders' frame (forward, up, right; m for 1.75 m of stature, from the
# middle of the shoulders), angles in degrees, positive to the right. Each row: start and
# duration (s, contact is near 0), then what changes.
#  p, s: pelvis, shoulders turn; h: hand; r: where the wrist would hold the racket;
#  o: the other hand; w: 1 when it holds the racket; k: knee bend (m of lowering);
#  f: feet's turn; a: lean ahead, b: lean to the right, t: tilt of the shoulder line (right up)
READY = dict(p=0, s=0, h=(.40, -.33, .04), r=(.8, .5, -.35), o=(.38, -.30, -.10), w=1, k=.05, f=0, a=12, b=0, t=0)

PLANS = {
    1: [(-1.05, .55, dict(p=55, s=92, h=(.28, -.05, .36), r=(.1, .95, .25), o=(.50, -.12, -.05), w=0, k=.09, f=45, t=3)),
        (-.50, .34, dict(p=62, s=98, h=(.02, -.40, .56), r=(.1, -.25, .95), o=(.48, -.10, .0), k=.12)),
        (-.21, .29, dict(p=-5, s=-5, h=(.62, -.16, .36), r=(.75, .0, .65), o=(.25, -.25, -.30), k=.05, a=6, t=-8)),
        (-.01, .22, dict(r=(.5, .5, -.7))),     # round, never straight through the hand
        (.13, .30, dict(r=(-.4, .5, -.75))),
        (-.01, .36, dict(p=-15, s=-50, h=(.30, .10, -.36), o=(.3, -.2, -.3), k=.05))],
    2: [(-1.05, .55, dict(p=-60, s=-95, h=(.33, -.18, -.20), r=(.2, .75, -.6), k=.09, f=-45, t=3)),
        (-.52, .34, dict(p=-65, s=-102, h=(.33, -.38, -.20), r=(.1, -.3, -.95), k=.13)),
        (-.21, .30, dict(p=-10, s=-15, h=(.47, -.22, .02), r=(.92, .0, -.40), k=.05, a=6, t=6)),
        (-.01, .22, dict(r=(.5, .5, .7))),
        (.13, .30, dict(r=(-.4, .5, .75))),
        (-.01, .36, dict(p=10, s=45, h=(.28, .07, .22), k=.05))],
    3: [(-1.05, .55, dict(p=-65, s=-98, h=(.30, -.10, -.30), r=(.25, .7, -.6), k=.08, f=-65, t=3)),
        (-.50, .34, dict(p=-68, s=-106, h=(.27, -.40, -.32), r=(.05, -.3, -.95), k=.12)),
        (-.34, .24, dict(o=(.1, -.4, -.35), w=0)),      # the other hand lets go as the swing starts
        (-.20, .30, dict(p=-42, s=-50, h=(.52, -.20, .56), r=(.97, .05, -.2), k=.06, a=8, t=-4)),
        (-.01, .36, dict(p=-35, s=-30, h=(.22, .32, .52), r=(-.25, .75, .6), o=(.05, -.35, -.50)))],
    4: [(-1.00, .55, dict(p=-60, s=-92, h=(.30, .00, -.22), r=(.1, .8, -.55), k=.07, f=-65)),
        (-.34, .24, dict(o=(.0, -.35, -.4), w=0)),
        (-.21, .33, dict(p=-42, s=-56, h=(.52, -.30, .48), r=(.92, .1, -.30), k=.12, a=14)),
        (.04, .40, dict(p=-45, s=-50, h=(.50, -.38, .45), r=(.55, .55, .4), o=(.05, -.3, -.48), k=.08))],
    5: [(-2.1, .6, dict(p=62, s=72, h=(.36, -.38, .10), r=(.7, .2, -.6), o=(.42, -.36, -.10), w=0, f=70, k=.03, a=5)),
        (-1.42, .62, dict(p=68, s=88, h=(-.02, -.20, .62), r=(.1, -.2, .9))),
        (-1.12, .30, dict(o=(.22, .60, -.26))),
        (-.90, .42, dict(p=70, s=96, h=(.0, .12, .46), r=(.0, .95, -.20), k=.20, b=-6, t=-18)),
        (-.42, .16, dict(r=(-.8, .35, .3))),
        (-.36, .26, dict(p=35, s=50, h=(-.10, .18, .42), r=(-.55, -.80, -.05), o=(.25, .1, -.25), k=.02, b=-12, t=8)),
        (-.21, .13, dict(r=(-.25, .25, .9))),
        (-.15, .21, dict(p=8, s=10, h=(.28, .62, .18), r=(.36, .92, .12), o=(.2, -.2, -.1), a=14, b=-16, t=22)),
        (.0, .16, dict(r=(.85, -.15, -.45))),
        (.02, .34, dict(p=-12, s=-30, h=(.30, -.42, -.36), r=(-.1, -.85, -.5), o=(.1, -.3, -.2), a=28, b=-4, t=-5, k=.06))],
    6: [(-.62, .40, dict(p=30, s=48, h=(.36, .02, .36), r=(.15, .9, .35), o=(.45, -.1, -.05), w=0, k=.10, f=25)),
        (-.15, .24, dict(p=18, s=24, h=(.62, -.06, .34), r=(.62, .62, .48), k=.12, a=14)),
        (.10, .35, dict(s=10, h=(.52, -.26, .12), r=(.7, .55, .0)))],
    7: [(-.62, .40, dict(p=-38, s=-58, h=(.34, -.04, -.10), r=(.2, .9, -.40), k=.10, f=-30)),
        (-.15, .24, dict(p=-30, s=-38, h=(.56, -.10, .26), r=(.72, .60, -.36), o=(.1, -.25, -.35), w=0, k=.12, a=14)),
        (.10, .35, dict(s=-28, h=(.46, -.28, .34), r=(.7, .6, .1)))],
    8: [(-1.35, .60, dict(p=60, s=86, h=(.05, .14, .44), r=(-.05, .95, -.1), o=(.30, .48, -.20), w=0, k=.10, f=60, a=2, t=-12)),
        (-.75, .35, dict(k=.24)),
        (-.41, .16, dict(r=(-.8, .35, .3))),
        (-.35, .25, dict(p=35, s=52, h=(-.08, .16, .42), r=(-.55, -.75, .0), o=(.25, .1, -.25), k=.05, b=-8, t=6)),
        (-.21, .13, dict(r=(-.25, .25, .9))),
        (-.15, .22, dict(p=10, s=12, h=(.28, .60, .18), r=(.36, .92, .12), o=(.2, -.2, -.1), a=12, b=-12, t=20)),
        (.0, .16, dict(r=(.85, -.15, -.45))),
        (.02, .34, dict(p=-12, s=-30, h=(.32, -.36, -.32), r=(-.1, -.85, -.45), o=(.1, -.3, -.2), a=22, b=-2, t=-4))],
}
# Course of the head at contact that the player times: azimuth to h (deg), elevation (deg).
COURSE = {1: (0, 22), 2: (0, 20), 3: (2, 22), 4: (8, -12), 5: (0, -3), 6: (5, -12), 7: (5, -14), 8: (0, -8)}
BACK_AT = {1: .75, 2: .75, 3: .7, 4: .6, 5: .9, 6: .45, 7: .45, 8: .7}   # s after contact
DELAY = dict(p=-.035, f=-.04, k=-.03, s=0, a=0, b=0, t=0, h=.02, o=0, w=0, r=.02)   # proximal to distal


class Channels:
    """Sums of minimum-jerk submovements, one list a channel."""

    def __init__(self):
        self.moves, self.now = {}, {}

    def to(self, name, start, length, value):
        value = np.asarray(value, float)
        before = self.now.get(name)
        if before is None:
            self.moves[name] = [(None, None, value)]
        else:
            self.moves[name].append((start, length, value - before))
        self.now[name] = value

    def at(self, name, t):
        first = self.moves[name][0][2]
        out = np.zeros((len(t),) + first.shape) + first
        for start, length, d in self.moves[name][1:]:
            out = out + np.multiply.outer(minjerk((t - start) / length), d)
        return out


class Player:
    def __init__(self, rng, hand=None, stature=None, level=None):
        self.rng = rng
        self.left = bool(rng.random() < .2) if hand is None else hand == "left"
        self.H = rng.uniform(1.35, 1.98) if stature is None else stature
        self.level = int(rng.integers(1, 5)) if level is None else level
        self.pace = {1: 1.30, 2: 1.12, 3: 1.0, 4: .93}[self.level] * rng.uniform(.95, 1.06)
        self.turn = {1: .78, 2: .9, 3: 1.0, 4: 1.05}[self.level] * rng.uniform(.95, 1.05)
        p = lambda x, sd=.04: x * self.H * (1 + sd * rng.standard_normal())
        self.upper, self.fore, self.hand = p(.186), p(.146), p(.045)
        self.thigh, self.shank, self.ankle = p(.245), p(.246), p(.039)
        self.shoulders, self.hips = p(.205) / 2, p(.110) / 2
        self.trunk, self.neck, self.headw = p(.288), p(.115), p(.085) / 2
        self.toss = 1.0         # how long the tossing arm takes, of the plan's time
        self.racket = .685 if self.H > 1.5 else .66
        self.wrist = rng.uniform(7, 13)              # N m / rad
        self.dummy = .35 + .3 * rng.random()         # damping ratio of the wrist


def reach(p, centre, most):
    """Pulls p softly to within `most` of centre."""
    d = p - centre
    n = np.linalg.norm(d, axis=-1, keepdims=True)
    soft = .87 * most
    far = soft + (most - soft) * np.tanh((n - soft) / (most - soft))
    return np.where(n > soft, centre + d / n * far, p)


def joint(a, b, la, lb, pole):
    """The middle joint of a limb from a to b, bent toward pole."""
    d = b - a
    n = np.clip(np.linalg.norm(d, axis=-1, keepdims=True), abs(la - lb) + 1e-3, la + lb - 1e-5)
    e = unit(d)
    x = (la * la - lb * lb + n * n) / (2 * n)
    y = np.sqrt(np.maximum(la * la - x * x, 1e-8))
    side = unit(pole - dot(pole, e)[..., None] * e)
    return a + x * e + y * side


def smooth(x, width):
    """Gaussian smoothing along time; width is the sd in samples."""
    n = int(4 * width)
    k = np.exp(-.5 * (np.arange(-n, n + 1) / width) ** 2)
    k /= k.sum()
    pad = np.concatenate([np.repeat(x[:1], n, 0), x, np.repeat(x[-1:], n, 0)])
    if x.ndim == 1:
        return np.convolve(pad, k, "valid")
    return np.stack([np.convolve(pad[:, i], k, "valid") for i in range(x.shape[1])], 1)


def swing_racket(pl, t, grip, rest, fore, stiff, u0, w0, blow=None):
    """The racket's axis u and turning w while the wrist (spring, damper, stop at 100 deg of
    the forearm) holds it toward rest. Mass .30 kg, .23 m out; .032 kg m2 about the grip.
    blow: (index, turn to lose over 4 ms)."""
    inertia, mr = .032, .30 * .23
    acc = np.gradient(np.gradient(grip, DT, axis=0), DT, axis=0)
    wr = np.cross(rest, np.gradient(rest, DT, axis=0))
    u, w = [float(x) for x in u0], [float(x) for x in w0]
    us, ws = np.empty((len(t), 3)), np.empty((len(t), 3))
    A, R, F, W = (acc.tolist(), rest.tolist(), fore.tolist(), wr.tolist())
    K = stiff.tolist()
    stop = np.cos(rad(105))
    h = DT / 2
    for i in range(len(t)):
        us[i], ws[i] = u, w
        r, f, a, k = R[i], F[i], A[i], K[i]
        damp = 2 * pl.dummy * (k * inertia) ** .5
        for half in (0, 1):
            gx, gy, gz = -a[0], -G - a[1], -a[2]
            tx = mr * (u[1] * gz - u[2] * gy)
            ty = mr * (u[2] * gx - u[0] * gz)
            tz = mr * (u[0] * gy - u[1] * gx)
            cx, cy, cz = u[1] * r[2] - u[2] * r[1], u[2] * r[0] - u[0] * r[2], u[0] * r[1] - u[1] * r[0]
            s = (cx * cx + cy * cy + cz * cz) ** .5
            c = u[0] * r[0] + u[1] * r[1] + u[2] * r[2]
            q = k * np.arctan2(s, c) / (s + 1e-9)
            v = W[i]
            d = u[0] * f[0] + u[1] * f[1] + u[2] * f[2]
            p = 60 * (stop - d) if d < stop else 0.
            tx += q * cx - damp * (w[0] - v[0]) + p * (u[1] * f[2] - u[2] * f[1])
            ty += q * cy - damp * (w[1] - v[1]) + p * (u[2] * f[0] - u[0] * f[2])
            tz += q * cz - damp * (w[2] - v[2]) + p * (u[0] * f[1] - u[1] * f[0])
            w = [w[0] + h * tx / inertia, w[1] + h * ty / inertia, w[2] + h * tz / inertia]
            if blow is not None and 0 <= i - blow[0] < 4:
                x = ((i - blow[0]) + .5 * half + .25) / 4
                g = np.pi / 2 * np.sin(np.pi * x) / 8
                w = [w[j] + g * blow[1][j] for j in range(3)]
            d = w[0] * u[0] + w[1] * u[1] + w[2] * u[2]
            w = [w[j] - d * u[j] for j in range(3)]
            u = [u[0] + h * (w[1] * u[2] - w[2] * u[1]), u[1] + h * (w[2] * u[0] - w[0] * u[2]),
                 u[2] + h * (w[0] * u[1] - w[1] * u[0])]
            n = (u[0] ** 2 + u[1] ** 2 + u[2] ** 2) ** .5
            u = [x / n for x in u]
    return us, ws


def plan(pl, strokes, base):
    """Commands for a clip of strokes: channels, contact times, ready times, hops."""
    rng, ch = pl.rng, Channels()
    s = pl.H / 1.75
    for k, v in READY.items():
        ch.to(k, 0, 0, np.asarray(v, float) * (s if k in "hok" else 1))
    spot = np.array([base[0] - rng.uniform(.5, 1.5), base[1] + rng.uniform(-1.5, 1.5)])
    ch.to("x", 0, 0, spot)
    ch.to("head", 0, 0, 0)
    now, hits, hops = .4, [], []
    for st in strokes:
        place = np.asarray(base, float) + rng.uniform(-.7, .7, 2)
        walk = np.linalg.norm(place - ch.now["x"])
        length = max(.7, walk / 1.1)
        if walk > .3:
            ch.to("x", now, length, place)
            # a walker's arms: the racket hand hangs
            if walk > 1.2:
                ch.to("h", now, .6, s * np.array([.12, -.48, .26]))
                ch.to("o", now, .6, s * np.array([.12, -.48, -.26]))
                ch.to("w", now, .3, 0)
                ch.to("k", now, .4, .015)
                ch.to("r", now, .6, (.75, -.45, -.1))
                back = now + length - .45
                for c in "hokwr":
                    ch.to(c, back, .6, np.asarray(READY[c], float) * (s if c in "hok" else 1))
            now += length
        now += rng.uniform(.6, 1.1)
        rows = PLANS[st]
        fast = pl.pace if st not in (6, 7) else .5 + .5 * pl.pace
        lead = -rows[0][0] * fast
        hit = now + lead + .35
        if st != 5 and rng.random() < .8:
            hops.append((hit - lead - rng.uniform(.15, .40), rng.uniform(.03, .09) * s))
        jump = rng.uniform(.0, .16) if st == 5 and pl.level > 1 else 0
        if jump > .03:
            hops.append((hit - (2 * jump / G) ** .5 * rng.uniform(.8, 1.1), jump))
        odd = {c: rng.standard_normal(3) * .025 * s for c in "hor"}
        turn = rng.normal(0, 5)
        high = rng.uniform(-.03, .25) * s
        for n, (start, length, to) in enumerate(rows):
            for c, v in to.items():
                v = np.asarray(v, float)
                if c in "ps":
                    v = v * (pl.turn if abs(v) > 30 else 1) + (turn if start < -.3 else 0)
                if c in "ho":
                    v = v * s + odd[c]
                    if n >= 1 and st in (1, 2, 3, 4):
                        v = v + np.array([0, high * (.3 if start < -.3 else 1), 0])
                elif c == "k":
                    v = v * s * .7
                elif c == "r":
                    v = unit(v + odd[c] / s * 2)
                late = DELAY[c] * (1.3 - .12 * pl.level) * rng.uniform(.8, 1.2)
                last = length * fast * rng.uniform(.95, 1.06) * (pl.toss if st == 5 and n == 2 else 1)
                ch.to(c, hit + start * fast + late, last, v)
        # a step into the ball, and the eyes on it
        face = np.array([rng.uniform(.10, .30), rng.uniform(-.15, .15)])
        ch.to("x", hit - .75 * fast, .8 * fast, ch.now["x"] + face)
        away = {1: 20, 2: -25, 3: -30, 4: -28, 5: 25, 6: 12, 7: -15, 8: 20}[st]
        ch.to("head", hit - .5, .4, away)
        ch.to("head", hit + .15, .5, 0)
        end = hit + BACK_AT[st] * fast
        for c, v in READY.items():
            ch.to(c, end + rng.uniform(0, .08), .75, np.asarray(v, float) * (s if c in "hok" else 1) + (rng.normal(0, 3) if c in "ps" else 0))
        hits.append((st, hit, hit - lead - .45))
        now = end + 1.0
    return ch, hits, hops, now + .6


def feet_of(pl, t, pelvis, yaw, hop):
    """Where the ankles are: a foot steps when its place under the hips is too far off."""
    n = len(t)
    out = np.zeros((2, n, 3))
    wide = .30 * pl.H / 1.75
    vel = np.gradient(pelvis, DT, axis=0)

    def want(i, side):
        j = min(i, n - 1)
        y = rad(yaw[j])
        return pelvis[j] + side * wide / 2 * np.array([-np.sin(y), np.cos(y)])

    pos = [want(0, -1), want(0, 1)]
    step = [None, None]
    for i in range(n):
        for k, side in enumerate((-1, 1)):
            if step[k]:
                i0, m, a, b, lift = step[k]
                x = (i - i0) / m
                q = minjerk(x)
                xz = a + (b - a) * q
                out[k, i] = [xz[0], pl.ankle + lift * np.sin(np.pi * min(q, 1)) ** 2, xz[1]]
                if x >= 1:
                    pos[k], step[k] = b, None
            else:
                out[k, i] = [pos[k][0], pl.ankle, pos[k][1]]
                if i % 10 == 0 and not step[1 - k] and hop[i] < 1e-4:
                    off = np.linalg.norm(want(i + 150, side) - pos[k])
                    if off > .16 and off >= np.linalg.norm(want(i + 150, -side) - pos[1 - k]) - .02:
                        m = int(260 + 120 * pl.rng.random())
                        goal = want(i + m + 150, side)
                        move = np.linalg.norm(goal - pos[k])
                        step[k] = (i, m, pos[k], goal, min(.10, .03 + .12 * move))
    return out


def hop_height(t, hops):
    """Height (m) of the flight, and the bend (m) of the knees before and after it."""
    up, bend = np.zeros_like(t), np.zeros_like(t)
    for start, top in hops:
        air = 2 * (2 * top / G) ** .5
        x = t - start
        inside = (x > 0) & (x < air)
        up = np.where(inside, np.maximum(up, (2 * G * top) ** .5 * x - G * x * x / 2), up)
        for c, a in ((start - .10, .03), (start + air + .07, .05)):
            bend += a * np.exp(-.5 * ((t - c) / .06) ** 2)
    return up, bend


def play(pl, strokes, base):
    """build, with the tossing arm as quick as its ball needs: a ball leaves without a jump."""
    seed = int(pl.rng.integers(1 << 40))
    for _ in range(5):
        pl.rng = np.random.default_rng(seed)
        m = build(pl, strokes, base)
        gap = [hd["toss"] for hd in m["hits"] if "toss" in hd]
        if not gap or abs(np.mean(gap) - 1) < .03:
            break
        pl.toss *= float(np.clip(np.mean(gap), .6, 1.4))
    return m


def build(pl, strokes, base):
    """Simulates a clip. Returns a dict of arrays on the 1 ms grid (right-handed)."""
    rng = pl.rng
    ch, hits, hops, end = plan(pl, strokes, base)
    t = np.arange(0, end, DT)
    n = len(t)
    wob = lambda a, w: a * smooth(rng.standard_normal(n), w) * np.sqrt(2 * w * np.pi ** .5)
    p, s = (ch.at(c, t) + wob(.6, 150) for c in "ps")
    up, bend = hop_height(t, hops)
    xz = ch.at("x", t) + np.stack([wob(.008, 200), wob(.008, 200)], 1)
    feet = feet_of(pl, t, xz, ch.at("f", t), up)
    feet[0, :, 1] += up
    feet[1, :, 1] += np.interp(t - .012, t, up)
    leg = pl.thigh + pl.shank
    hip = pl.ankle + leg * .985 - ch.at("k", t) - bend
    yaw = rad(p)
    side = np.stack([-np.sin(yaw), np.zeros(n), np.cos(yaw)], 1) * pl.hips
    for k, sg in ((0, -1), (1, 1)):
        d = np.linalg.norm(feet[k][:, [0, 2]] - xz - sg * side[:, [0, 2]], axis=1)
        can = feet[k][:, 1] - up * 0 + np.sqrt(np.maximum((leg * .995) ** 2 - d * d, .1))
        hip = np.minimum(hip, np.where(up > 1e-4, hip, can))
    hip = smooth(hip, 35) + smooth(up, 10)
    mid = np.stack([xz[:, 0], hip, xz[:, 1]], 1)
    hips = [mid - side, mid + side]
    knees, ankles = [], []
    toe = rad(ch.at("f", t))
    ahead = np.stack([np.cos(toe), np.zeros(n), np.sin(toe)], 1)
    for k in (0, 1):
        a = reach(feet[k], hips[k], leg * .999)      # a heel lifts rather than the leg stretches
        ankles.append(a)
        knees.append(joint(hips[k], a, pl.thigh, pl.shank, ahead))
    lean = np.stack([np.tan(rad(ch.at("a", t))), np.ones(n), np.tan(rad(ch.at("b", t)))], 1)
    e2 = unit(lean)
    sy, tilt = rad(s), rad(ch.at("t", t))
    e3 = np.stack([-np.sin(sy) * np.cos(tilt), np.sin(tilt), np.cos(sy) * np.cos(tilt)], 1)
    e1 = unit(np.cross(e2, e3))
    f2 = np.cross(e3, e1)
    frame = lambda v: v[:, :1] * e1 + v[:, 1:2] * f2 + v[:, 2:3] * e3
    top = mid + pl.trunk * e2
    sh = [top - pl.shoulders * e3, top + pl.shoulders * e3]
    arm = pl.upper + pl.fore + pl.hand
    aim = top + frame(ch.at("h", t))
    two = np.zeros((n, 1))        # how far the other hand is on the handle
    for st, hit, _ in hits:
        if st == 2:
            two[:, 0] += minjerk((t - hit + 1.6) / .35) - minjerk((t - hit - .55) / .4)
    for _ in range(3):
        aim = reach(aim, sh[0], arm * (.96 + 2 * (1 - two)))
        aim = reach(aim, sh[1], arm * .99)
    grip = aim + np.stack([wob(.0015, 25) for _ in range(3)], 1)
    rest = unit(smooth(unit(frame(ch.at("r", t))), 12))
    elbow_pole = frame(np.tile([-.85, -.40, .30], (n, 1)))
    out = dict(t=t, n=n, hits=[], grip=grip)
    stiff = np.full(n, pl.wrist)
    for st, hit, _ in hits:      # firm at the end of the take-back, loose in the forward swing
        stiff *= 1 - .35 * np.exp(-.5 * ((t - hit + .12) / .10) ** 2)
        stiff *= 1 + .6 * np.exp(-.5 * ((t - hit - .35) / .15) ** 2)
        if st in (2, 3, 4, 6, 7):       # two hands, or a firm wrist
            stiff *= 1 + {2: 1.2, 3: .6, 4: .8, 6: 1.5, 7: 1.5}[st] * np.exp(-.5 * ((t - hit) / .5) ** 2)
    fore = unit(grip - joint(sh[1], grip - pl.hand * unit(grip - sh[1]), pl.upper, pl.fore, elbow_pole))
    u, w = np.empty((n, 3)), np.empty((n, 3))
    at, u0, w0 = 0, rest[0], np.zeros(3)
    grip = grip.copy()
    for st, hit, _ in hits:
        lo, hi = int((hit - .15) / DT), int((hit + .20) / DT)
        sl = slice(at, hi + 60)
        u[sl], w[sl] = swing_racket(pl, t[sl], grip[sl], rest[sl], fore[sl], stiff[sl], u0, w0)
        hit_side = -1 if st in BACKHANDS else 1
        head = grip[lo:hi] + (.75 * pl.racket - GRIP) * u[lo:hi]
        v = np.gradient(head, DT, axis=0)
        az = np.rad2deg(np.arctan2(v[:, 2] * hit_side, v[:, 0]))
        el = np.rad2deg(np.arctan2(v[:, 1], np.hypot(v[:, 0], v[:, 2])))
        speed = np.linalg.norm(v, axis=1)
        caz, cel = COURSE[st]
        uw = u[lo:hi]
        square = np.abs(uw[:, 0] + .22 - rng.normal(0, .07)) if st not in (5, 8) else 1.6 * (1 - uw[:, 1])
        off = np.hypot(az - caz - rng.normal(0, 6), (el - cel) * (1 if st in (5, 8) else .3))
        if st in (5, 8):
            off = off + 1e3 * (speed < .72 * speed.max()) + 1e3 * (uw[:, 1] < .5)
        cost = off / 60 + 1.6 * square - (2.0 if st in (5, 8) else 1.2) * speed / speed.max()
        ic = lo + int(np.argmin(cost))
        tip = pl.racket - GRIP
        vg = (grip[ic] - grip[ic - 2]) / (2 * DT)
        vt = vg + tip * np.cross(w[ic], u[ic])
        keep = rng.uniform(.70, .80)
        hand_keep = rng.uniform(.88, .95)
        dvg = -(1 - hand_keep) * vg
        dvt = -(1 - keep) * vt - dvg
        dw = np.cross(u[ic], dvt) / tip
        x = t - t[ic]
        ramp = np.where(x > 0, x * np.exp(-np.maximum(x, 0) / .030), 0) * np.clip(x / .004, 0, 1)
        grip = grip + ramp[:, None] * dvg
        free = dict(u=u[ic], vg=vg, w=w[ic])
        n_hit = unit(vt)
        out["hits"].append(dict(stroke=st, ic=ic, side=hit_side, keep=keep, start=_, free=free, tip_v=vt))
        u[ic:hi + 60], w[ic:hi + 60] = swing_racket(pl, t[ic:hi + 60], grip[ic:hi + 60], rest[ic:hi + 60], fore[ic:hi + 60],
                                                    stiff[ic:hi + 60], u[ic], w[ic], (0, dw))
        at, u0, w0 = hi + 59, u[hi + 59], w[hi + 59]
    u[at:], w[at:] = swing_racket(pl, t[at:], grip[at:], rest[at:], fore[at:], stiff[at:], u0, w0)
    out.update(grip=grip, u=u, butt=grip - GRIP * u, tip=grip + (pl.racket - GRIP) * u)
    # wrists: each hand's middle on the handle, the hand between forearm and racket
    low = out["butt"] + (.085 - .02 * two) * u
    high = out["butt"] + .155 * u
    hold = ch.at("w", t)[:, None]
    held = two * high + (1 - two) * (out["butt"] + .33 * u)
    other = reach(top + frame(ch.at("o", t)), sh[0], arm * .97)
    other = hold * held + (1 - hold) * other
    wrists, elbows, hands = [], [], [other, low]
    for k, hand in ((0, other), (1, low)):
        pole = elbow_pole if k else frame(np.tile([-.60, -.40, -.65], (n, 1)))
        f = unit(hand - sh[k])
        along = u * (.45 if k else .45 * hold)
        for _ in range(3):
            wr = reach(hand - pl.hand * unit(f + along), sh[k], (pl.upper + pl.fore) * .993)
            el = joint(sh[k], wr, pl.upper, pl.fore, pole)
            f = unit(wr - el)
        wrists.append(wr)
        elbows.append(el)
    # head: it looks ahead and to the ball, turned no more than 75 deg from the chest
    look = rad(s + np.clip(ch.at("head", t) - s, -75, 75))
    look = smooth(look, 60)
    pitch = rad(-8 + wob(1.5, 200))
    fwd = np.stack([np.cos(look) * np.cos(pitch), np.sin(pitch), np.sin(look) * np.cos(pitch)], 1)
    right = np.stack([-np.sin(look), np.zeros(n), np.cos(look)], 1)
    crown = np.cross(right, fwd)
    skull = top + pl.neck * unit(.5 * e2 + np.array([0, 1., 0])) + np.stack([wob(.004, 60) for _ in range(3)], 1)
    k = pl.H / 1.75
    P = {}
    for i, nm in ((0, "left"), (1, "right")):
        sg = (-1, 1)[i]
        P[nm + "_ear"] = skull + sg * pl.headw * right
        P[nm + "_eye"] = skull + k * (.075 * fwd + sg * .032 * right + .030 * crown)
        P[nm + "_eye_inner"] = skull + k * (.08 * fwd + sg * .016 * right + .030 * crown)
        P[nm + "_eye_outer"] = skull + k * (.066 * fwd + sg * .045 * right + .030 * crown)
        P[nm + "_mouth"] = skull + k * (.085 * fwd + sg * .025 * right - .055 * crown)
        P[nm + "_shoulder"], P[nm + "_elbow"], P[nm + "_wrist"] = sh[i], elbows[i], wrists[i]
        P[nm + "_hip"], P[nm + "_knee"], P[nm + "_ankle"] = hips[i], knees[i], ankles[i]
        d = unit(hands[i] - wrists[i])
        x = unit(np.cross(d, np.tile([0, 1., 0], (n, 1))))
        P[nm + "_index"] = hands[i] + .03 * k * d + .02 * k * x
        P[nm + "_pinky"] = hands[i] + .02 * k * d - .03 * k * x
        P[nm + "_thumb"] = hands[i] + .02 * k * d + .035 * k * x
        P[nm + "_heel"] = ankles[i] - k * (.055 * ahead + np.array([0, .045, 0]))
        P[nm + "_toe"] = ankles[i] + k * (.155 * ahead - np.array([0, .055, 0]))
        P[nm + "_small_toe"] = P[nm + "_toe"] + k * (.05 * sg * np.cross(ahead, [0, 1., 0]) - .02 * ahead)
    P["nose"] = skull + k * .105 * fwd
    out["points"] = P
    # the face: the forehand face's normal, a wrist roll that squares it at contact
    n_f = []
    base_n = unit(frame(np.tile([.9, .15, -.35], (n, 1))))
    nrm = unit(base_n - dot(base_n, u)[:, None] * u)
    for hd in out["hits"]:
        goal = np.array([1, .06 if hd["stroke"] not in (4, 6, 7) else .2, rng.normal(0, .06)]) * hd["side"]
        weight = np.exp(-.5 * ((t - t[hd["ic"]]) / .25) ** 2)[:, None]
        g = unit(goal - dot(np.tile(goal, (n, 1)), u)[:, None] * u)
        nrm = unit((1 - weight) * nrm + weight * (g + 1e-3))
        nrm = unit(nrm - dot(nrm, u)[:, None] * u)
    edge = np.cross(nrm, u)
    out["throat"] = grip + (pl.racket * .5 - GRIP) * u
    middle = grip + (.75 * pl.racket - GRIP) * u
    out["right_edge"], out["left_edge"] = middle + .13 * edge, middle - .13 * edge
    out["head"] = (out["tip"] + out["throat"]) / 2
    out["normal"] = nrm
    balls(pl, out)
    return out


def human(pl, m):
    """Whether a clip could be played: heads that meet the ball, no joint that jumps."""
    calm = np.ones(m["n"], bool)
    speed = np.linalg.norm(np.diff(m["tip"], axis=0), axis=1) / DT
    quiet = np.ones(m["n"] - 1, bool)
    for hd in m["hits"]:
        ic = hd["ic"]
        v = (m["head"][ic] - m["head"][ic - 5]) / (5 * DT)
        over = hd["stroke"] in (5, 8)
        if v[0] < (3 if hd["stroke"] in (6, 7) else 6) or v[0] < .6 * np.linalg.norm(v) or abs(v[2]) > .55 * v[0]:
            return False
        if over and (m["u"][ic, 1] < .62 or m["head"][ic, 1] < 1.15 * pl.H or v[1] > .35 * v[0]):
            return False
        if abs(hd.get("toss", 1) - 1) > .12 or hd["vout"][0] < 5 or abs(hd["vout"][2]) > .6 * hd["vout"][0]:
            return False
        calm[ic - 5:ic + 10] = False
        quiet[ic - 350:ic + 500] = False
        if speed[ic + 60:ic + 600].max() > (1.25 if hd["stroke"] in (6, 7) else 1.05) * speed[ic - 1]:
            return False            # the follow-through whips
    if speed[quiet].max() > 13:
        return False
    for k in ("elbow", "wrist", "knee", "ankle"):
        for side in ("left_", "right_"):
            a = np.linalg.norm(np.diff(m["points"][side + k], 2, axis=0), axis=1) / DT ** 2
            if a[calm[1:-1]].max() > 2000:
                return False
    return True


def drag(v):
    """Acceleration of a ball: gravity and drag (0.0135 a metre)."""
    return np.array([0, -G, 0]) - .0135 * np.linalg.norm(v) * v


def flight(p, v, time, back=False):
    """Positions each ms from p, v; bounces on the ground while ahead in time."""
    sg = -1 if back else 1
    out = []
    for _ in range(int(time / DT)):
        out.append(p.copy())
        v = v + sg * DT * drag(v)
        p = p + sg * DT * v
        if p[1] < .033 and sg * v[1] < 0:
            v = np.array([v[0] * .65, -v[1] * .75, v[2] * .65]) if not back else np.array([v[0] / .65, -v[1] / .75, v[2] / .65])
            p[1] = .033
    return np.array(out).reshape(-1, 3)


def balls(pl, m):
    """One ball at a time: thrown so that it meets the strings, and sent away by them."""
    rng, n = pl.rng, m["n"]
    ball = np.full((n, 3), np.nan)
    for hd in m["hits"]:
        ic, st = hd["ic"], hd["stroke"]
        c = m["head"][ic] + .033 * m["normal"][ic] * hd["side"] + m["u"][ic] * rng.normal(0, .02)
        tc = m["t"][ic]
        if st == 5:
            palm = m["points"]["left_wrist"] + .9 * pl.hand * unit(m["points"]["left_wrist"] - m["points"]["left_elbow"]) + np.array([0, .05, 0])
            vy = np.gradient(palm[:, 1], DT)
            ay = np.gradient(vy, DT)
            lo, hi = max(0, ic - 1600), ic - 350
            top = lo + int(np.argmax(vy[lo:hi]))
            free = np.nonzero(ay[top:hi] < -G)[0]
            ir = top + (int(free[0]) if len(free) else 0)
            T = (ic - ir) * DT
            a, steps = palm[ir], ic - ir
            v = (c - a) / T + np.array([0, G * T / 2, 0])
            for _ in range(4):
                end = flight(a, v, T + 2 * DT)[steps]
                v = v + (c - end) / T
            path = flight(a, v, T + 2 * DT)[:steps + 1]
            ball[max(0, ir - 1100):ir] = palm[max(0, ir - 1100):ir]
            ball[ir:ic + 1] = path
            hd["release"] = ir
            hd["toss"] = float(vy[ir] / v[1])     # the hand's rise over the ball's: 1 is a throw
            vin = v + np.array([0, -G * T, 0])
        else:
            vx = -rng.uniform(*{8: (2, 5), 6: (12, 20), 7: (12, 20)}.get(st, (9, 17)))
            vy = {8: rng.uniform(-11, -7), 6: rng.uniform(-2, 0), 7: rng.uniform(-2, 0)}.get(st, rng.uniform(-2.5, 1.5))
            vin = np.array([vx, vy, rng.normal(0, 1.5)])
            T = rng.uniform(.8, 1.3)
            if st in (6, 7, 8):
                T = min(T, .75)
            path = flight(c, vin, T, back=True)[::-1]
            # before it was sent over the net it is not in play
            k = min(len(path), ic)
            ball[ic + 1 - k:ic + 1] = path[len(path) - k:]
        vh = np.gradient(m["head"][ic - 6:ic + 1], DT, axis=0)[-1]
        nn = m["normal"][ic] * hd["side"]
        e = rng.uniform(.33, .45)
        vn = -e * dot(vin, nn) + (1 + e) * dot(vh, nn)
        tang = vin - dot(vin, nn) * nn
        vout = vn * nn + .6 * tang + .4 * (vh - dot(vh, nn) * nn)
        hd["vin"], hd["vout"] = vin, vout
        # through the dwell the strings carry it: a half-sine of force takes vin to vout
        p = c.copy()
        for k in range(1, 5):
            for q in ((k - 1) + np.array([.125, .375, .625, .875])) / 4:
                p = p + DT / 4 * (vin + (vout - vin) * (1 - np.cos(np.pi * q)) / 2)
            if k < 4:
                ball[ic + k] = p
        after = flight(p, vout, .9)
        k = min(len(after), n - ic - 4)
        ball[ic + 4:ic + 4 + k] = after[:k]
    m["ball"] = ball
