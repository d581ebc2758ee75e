"""Clips of the driven player as requests, under each capture condition, and their score.

    driven.py make DIR --condition P --clips 6 --seed 3     requests and truths into DIR
    driven.py score DIR                                     against DIR/*.answer.json
"""
import argparse
import glob
import json
import os
import numpy as np
import motion
import truth as tr

COCO = ["nose", "left_eye", "right_eye", "left_ear", "right_ear"] + [s + "_" + j for j in (
    "shoulder", "elbow", "wrist", "hip", "knee", "ankle") for s in ("left", "right")]
BLAZE = (["nose"] + ["%s_eye%s" % (s, e) for s in ("left", "right") for e in ("_inner", "", "_outer")] +
         ["left_ear", "right_ear", "left_mouth", "right_mouth"] +
         [s + "_" + j for j in ("shoulder", "elbow", "wrist", "pinky", "index", "thumb", "hip", "knee", "ankle", "heel", "toe")
          for s in ("left", "right")])
BODY25 = ["nose", "neck", "right_shoulder", "right_elbow", "right_wrist", "left_shoulder", "left_elbow", "left_wrist", "mid_hip",
          "right_hip", "right_knee", "right_ankle", "left_hip", "left_knee", "left_ankle", "right_eye", "left_eye", "right_ear",
          "left_ear", "left_toe", "left_small_toe", "left_heel", "right_toe", "right_small_toe", "right_heel"]
LAYOUTS = {"POINT_LAYOUT_COCO_17": COCO, "POINT_LAYOUT_BLAZEPOSE_33": BLAZE, "POINT_LAYOUT_BODY_25": BODY25}
RACKET = ["tip", "throat", "butt", "left_edge", "right_edge"]

# A court's marks by the rules of the game (m), X to the net from the near baseline.
MARKS = {}
for _x, _r, _ in ((0, "NEAR_BASELINE", 0), (23.77, "FAR_BASELINE", 0)):
    for _n, _z in (("LEFT_DOUBLES", -5.485), ("LEFT_SINGLES", -4.115), ("CENTER", 0), ("RIGHT_SINGLES", 4.115), ("RIGHT_DOUBLES", 5.485)):
        MARKS[_r + "_" + _n] = (_x, 0, _z)
for _x, _r in ((5.485, "NEAR_SERVICE"), (18.285, "FAR_SERVICE")):
    for _n, _z in (("LEFT", -4.115), ("CENTER", 0), ("RIGHT", 4.115)):
        MARKS[_r + "_" + _n] = (_x, 0, _z)
MARKS.update({"NET_LEFT_POST_BASE": (11.885, 0, -6.399), "NET_LEFT_POST_TOP": (11.885, 1.07, -6.399), "NET_CENTER_BASE": (11.885, 0, 0),
              "NET_CENTER_TOP": (11.885, .914, 0), "NET_RIGHT_POST_BASE": (11.885, 0, 6.399), "NET_RIGHT_POST_TOP": (11.885, 1.07, 6.399)})


class Camera:
    def __init__(self, aim, azimuth, distance, height, focal, size=(1920, 1080), roll=0.):
        """azimuth: where the camera stands as seen from the player, deg from +X toward +Z."""
        a = np.deg2rad(azimuth)
        self.pos = np.array([aim[0] + distance * np.cos(a), height, aim[2] + distance * np.sin(a)])
        z = motion.unit(np.asarray(aim, float) - self.pos)
        x = motion.unit(np.cross(z, [0, 1., 0]))
        y = np.cross(z, x)
        c, s = np.cos(np.deg2rad(roll)), np.sin(np.deg2rad(roll))
        self.R = np.stack([c * x + s * y, -s * x + c * y, z])
        self.f, self.size = focal, size

    def see(self, p):
        q = (p - self.pos) @ self.R.T
        z = np.maximum(q[..., 2:], 1e-6)
        return self.f * q[..., :2] / z + np.array(self.size) / 2, q[..., 2]


class Noise:
    """White and lasting (first-order, tau) error of one point course, of a given total sd."""

    def __init__(self, rng, share):
        self.rng, self.share, self.tau = rng, share, rng.uniform(.04, .3)

    def __call__(self, times, sd, dims):
        n = len(times)
        w = self.rng.standard_normal((n, dims))
        c = self.rng.standard_normal((n, dims))
        a = np.exp(-np.diff(times) / self.tau)
        for i in range(1, n):
            c[i] = a[i - 1] * c[i - 1] + np.sqrt(1 - a[i - 1] ** 2) * c[i]
        return np.asarray(sd) * (np.sqrt(1 - self.share) * w + np.sqrt(self.share) * c)


def mirrored(m):
    """A left-hander: the motion seen in a mirror, the points' names with it."""
    flip = np.array([1, 1, -1.])
    out = {k: (v * flip if isinstance(v, np.ndarray) and v.ndim == 2 else v) for k, v in m.items()}
    swap = lambda k: k.replace("left", "L").replace("right", "left").replace("L", "right")
    out["points"] = {swap(k): v * flip for k, v in m["points"].items()}
    out["left_edge"], out["right_edge"] = out["right_edge"], out["left_edge"]
    return out


def course(m, names):
    P = m["points"]
    mid = lambda j: (P["left_" + j] + P["right_" + j]) / 2
    P = dict(P, neck=mid("shoulder") * .94 + mid("ear") * .06, mid_hip=mid("hip"))
    return np.stack([P[k] for k in names], 1)


def lose(rng, xyz, score, names, gross, swap, share=.05):
    """Lost points, gross outliers and swapped sides, in place. xyz: frames x points x dims."""
    n, k, d = xyz.shape
    score[rng.random((n, k)) < share] = 0
    out = rng.random((n, k)) < gross
    scale = np.ptp(xyz.reshape(-1, d), axis=0).mean()
    xyz[out] += rng.standard_normal((int(out.sum()), d)) * .15 * scale
    for i in np.nonzero(rng.random(n) < swap)[0]:
        for j, nm in enumerate(names):
            if nm.startswith("left"):
                q = names.index("right" + nm[4:])
                xyz[i, [j, q]] = xyz[i, [q, j]]
                score[i, [j, q]] = score[i, [q, j]]


def flat(xyz, score):
    ok = score > 0
    return [float("%.6g" % v) for v in np.concatenate([np.where(ok[..., None], xyz, 0), score[..., None]], -1).ravel()]


def make(rng, condition, strokes=None, **opt):
    """One clip: (request, truth). opt overrides what is else drawn (see below)."""
    g = lambda k, v: opt[k] if k in opt else v
    clip_kind = int(rng.integers(3))
    kinds = strokes or {0: [1, int(rng.choice([2, 3])), int(rng.choice([1, 4]))], 1: [5, int(rng.choice([5, 1]))],
                        2: [6, 7, 8]}[clip_kind]
    if not strokes:
        rng.shuffle(kinds)
    base = g("base", (7., 0.) if kinds[0] in (6, 7, 8) and rng.random() < .6 else (-.6, 0.))
    while True:
        pl = motion.Player(rng, hand=g("hand", None), stature=g("stature_true", None), level=g("level", None))
        m = motion.play(pl, kinds, base)
        if motion.human(pl, m):
            break
    truths, end = [], m["t"][-1]
    seen = mirrored(m) if pl.left else m
    layout = g("layout", str(rng.choice(["POINT_LAYOUT_COCO_17", "POINT_LAYOUT_BLAZEPOSE_33"])))
    names = LAYOUTS[layout]
    body = course(seen, names)
    racket = np.stack([seen[k] for k in RACKET[:g("racket_points", int(rng.choice([3, 5])))]], 1)
    share = g("share", float(rng.choice([0, .4, .7])))
    hz = g("hz", {"W": 120, "T": 60, "P": 60, "I": 60, "B": 60, "S": int(rng.choice([120, 240]))}[condition])
    factor = {120: 4, 240: 8}.get(hz, 4) if condition == "S" else 1
    factor = g("factor", factor)
    player = {"dominantHand": "HAND_LEFT" if pl.left else "HAND_RIGHT"} if g("hand_told", rng.random() < .6) else {}
    marks_given = g("marks", condition == "T" or (condition == "I" and rng.random() < .6) or (condition in "PBS" and rng.random() < .5))
    if g("stature_told", (condition == "I" and not marks_given) or rng.random() < .5):
        player["statureM"] = round(pl.H, 2)
    setup = {"layout": layout, "player": player, "racket": {"lengthM": pl.racket}}
    frames, cams = [], []
    aim = np.array([base[0], 1.0 * pl.H / 1.75, base[1]])
    views = {"behind": 180, "front": 0, "right": 90, "left": 270}
    view = g("view", str(rng.choice(list(views))))
    az = views[view] + g("off", rng.uniform(-25, 25))
    if condition in "PBS" or (condition == "I"):
        poses = [az]
    elif condition == "T":
        poses = [az, az + rng.choice([-1, 1]) * rng.uniform(60, 120)]
    else:
        poses = []
    for a in poses:
        d = g("distance", rng.uniform(5.5, 11))
        size = g("size", (1920, 1080))
        f = g("focal", rng.uniform(1200, 1700))
        cams.append(Camera(aim, a, d, g("height", rng.uniform(1.0, 2.6)), f, size, rng.normal(0, 1)))
    if condition == "W":
        setup["worldAxes"] = "WORLD_AXES_COURT"
    elif condition in "PBS":
        setup["worldAxes"] = "WORLD_AXES_CAMERA"
    lag = [0.] + [float(rng.uniform(-.2, .2)) for _ in cams[1:]]
    for ci, cam in enumerate(cams):
        c = {"widthPx": cam.size[0], "heightPx": cam.size[1]}
        if g("focal_told", rng.random() < .5):
            c["focalPx"] = round(cam.f * rng.uniform(.99, 1.01), 1)
        if condition != "S":
            c["slowMotionFactor"] = 1 if rng.random() < .5 else 0
        if g("view_told", rng.random() < .4) and condition != "T":
            c["viewpoint"] = "VIEWPOINT_" + view.upper()
        if marks_given:
            got = []
            for nm, p in MARKS.items():
                px, depth = cam.see(np.array(p, float))
                if depth > .5 and 0 < px[0] < cam.size[0] and 0 < px[1] < cam.size[1]:
                    got.append({"mark": "COURT_MARK_" + nm, "xPx": float(px[0] + rng.normal(0, 1)), "yPx": float(px[1] + rng.normal(0, 1))})
            c["courtMarks"] = got
        setup.setdefault("cameras", []).append(c)
    if condition == "I" and "statureM" not in player and any(len(c["courtMarks"]) < 6 for c in setup["cameras"]):
        player["statureM"] = round(pl.H, 2)      # one or the other is known
    court = condition == "W" or (marks_given and all(len(c["courtMarks"]) >= 6 for c in setup["cameras"]))

    def sample(x, at):
        """x on the grid at times."""
        q = at / motion.DT
        i = np.clip(q.astype(int), 0, m["n"] - 2)
        w = (q - i).reshape((-1,) + (1,) * (x.ndim - 1))
        return x[i] * (1 - w) + x[i + 1] * w

    near = np.zeros(m["n"], bool)
    for hd in m["hits"]:
        near[max(0, hd["ic"] - 50):hd["ic"] + 51] = True
    for ci in range(max(1, len(cams))):
        start = rng.uniform(0, 1 / hz)
        at = np.arange(start, end - .01, 1 / hz)
        n = len(at)
        stamps = at + np.clip(rng.normal(0, .001, n), -.45 / hz, .45 / hz)      # times keep rising
        stamps = stamps * factor + 1.0 - (lag[ci] if ci < len(lag) else 0)
        b, r, ball = sample(body, at), sample(racket, at), sample(seen["ball"][:, None, :], at)
        close = sample(near.astype(float), at) > .5
        rows = {}

        def racket_score():
            s = np.ones(r.shape[:2])
            s[rng.random(s.shape) < .05] = 0
            both = close & (rng.random(n) < .15)
            s[both, :2] = 0
            return s

        def noisy(x, sd):
            out = x.copy()
            for j in range(x.shape[1]):
                out[:, j] += Noise(rng, share)(at, sd, x.shape[2])
            return out
        if condition == "W":
            x, s = noisy(b, .005), np.ones(b.shape[:2])
            lose(rng, x, s, names, .005, .005, g("lost", .05))
            rows["world"] = x, s
            x, s = noisy(r, .008), racket_score()
            lose(rng, x, s, RACKET, .005, 0, 0)
            rows["racketWorld"] = x, s
            rows["ballWorld"] = noisy(ball, .008), np.where(np.isnan(ball[..., 0]), 0, 1.) * (rng.random((n, 1)) > .05)
        else:
            cam = cams[ci]
            px = {"T": 1.5}.get(condition, 2.0)
            see = lambda q: cam.see(q)[0]
            x, s = noisy(see(b), px), np.ones(b.shape[:2])
            lose(rng, x, s, names, .005, .005, g("lost", .05))
            off = (x < 0).any(-1) | (x > np.array(cam.size)).any(-1)
            s[off] = 0
            rows["image"] = x, s
            if condition in "PBS":
                mid = (b[:, names.index("left_hip")] + b[:, names.index("right_hip")])[:, None] / 2
                q = (b - mid) @ cam.R.T
                x, sw = noisy(q, np.array([.025, .025, .045])), s.copy()
                lose(rng, x, sw, names, .005, .005, 0)
                rows["world"] = x, sw
            if condition != "B":
                x, s = noisy(see(r), px), racket_score()
                lose(rng, x, s, RACKET, .005, 0, 0)
                s[(x < 0).any(-1) | (x > np.array(cam.size)).any(-1)] = 0
                rows["racketImage"] = x, s
                if g("ball", True):
                    q = see(ball)
                    s = np.where(np.isnan(q[..., 0]), 0, 1.) * (rng.random((n, 1)) > g("ball_lost", .08))
                    s[(q < 0).any(-1) | (q > np.array(cam.size)).any(-1)] = 0
                    rows["ballImage"] = np.nan_to_num(noisy(q, px)), s
        for i in range(n):
            fr = {"index": i, "timeUs": int(round(stamps[i] * 1e6)), "camera": ci}
            for k, (x, s) in rows.items():
                if k.startswith("ball") and s[i, 0] == 0:
                    continue
                fr[k] = flat(x[i], s[i])
            frames.append(fr)
    frames.sort(key=lambda fr: fr["timeUs"])
    for hd in m["hits"]:
        if court:
            known = m
        elif hd["stroke"] in (5, 8):
            known = tr.turned(m, tr.head_direction(m, hd))
        else:
            known = tr.turned(m, tr.ready_direction(m, hd))
        ev, me = tr.scored(known, hd, pl.H, rng)
        truths.append({"stroke": hd["stroke"], "contact": float(ev["CONTACT"]), "events": {k: float(v) for k, v in ev.items()},
                       "measures": {k: float(v) for k, v in me.items()}})
    return ({"setup": setup, "frames": frames},
            {"condition": condition, "hand": "HAND_LEFT" if pl.left else "HAND_RIGHT", "stature": pl.H, "level": pl.level,
             "factor": factor, "view": view, "azimuth": az, "court": bool(court), "hz": hz, "swings": truths, "layout": layout, "share": share})


SUMS = {"fwd": ["FORWARD_START", "MAX_LAG", "RACKET_LOW", "DROP_START"], "turnev": ["TURN_START", "TURN_COMPLETE"]}


def score(folder, say=print):
    """Scores DIR/*.answer.json against DIR/*.truth.json; returns figures by name."""
    count = dict.fromkeys(("true", "found", "false", "named", "handed"), 0)
    err, inside, lies = {}, {}, {}
    for path in sorted(glob.glob(os.path.join(folder, "*.truth.json"))):
        tru = json.load(open(path))
        name = os.path.basename(path)[:-len(".truth.json")]
        lines = open(path.replace(".truth.json", ".answer.json")).read().strip()
        ans = json.loads(lines) if lines else {}
        ans = ans.get("answer", ans.get("response", ans))
        swings = ans.get("swings", [])
        used = set()
        clock = lambda us: (int(us) / 1e6 - 1.0) / tru["factor"]
        when = lambda s: next((clock(e["timeUs"]) for e in s.get("events", []) if e["kind"] == "EVENT_KIND_CONTACT"), None)
        for k, sw in enumerate(tru["swings"]):
            count["true"] += 1
            near = [(abs(when(s) - sw["contact"]), i) for i, s in enumerate(swings) if when(s) is not None and i not in used]
            tag = f"{name} {sw['stroke']} {tru['view']} court={tru['court']} hz={tru['hz']} share={tru['share']} H={tru['stature']:.2f} L{tru['level']}"
            if not near or min(near)[0] > .35:
                say("MISSED", tag)
                continue
            d, i = min(near)
            used.add(i)
            s = swings[i]
            count["found"] += 1
            ok = motion.STROKES[s["stroke"][7:].lower()] == sw["stroke"] if s.get("stroke") else False
            count["named"] += ok
            if not ok:
                say("MISNAMED", tag, s.get("stroke"), round(s.get("strokeConfidence", 0), 2))
            hand = s.get("dominantHand") == tru["hand"]
            count["handed"] += hand
            if not hand:
                say("WRONG HAND", tag, s.get("dominantHand"))
            if d > .05:
                say("CONTACT OFF %.0f ms" % (1e3 * (when(s) - sw["contact"])), tag)
            for e in s.get("events", []):
                kind = e["kind"][11:]
                if kind in sw["events"]:
                    x = clock(e["timeUs"]) - sw["events"][kind]
                    sd = int(e.get("sdUs", 0)) / 1e6 / tru["factor"]
                    err.setdefault(kind, []).append(1e3 * abs(x))
                    inside.setdefault("events", []).append(abs(x) <= 1.96 * sd)
                    lies.setdefault("events", []).append(abs(x) > 4 * sd)
                    if abs(x) > 4 * sd:
                        say("  EVENT LIE", tag, kind, "%.0f ms sd %.1f" % (1e3 * x, 1e3 * sd))
            if not ok:
                continue
            for q in s.get("measures", []):
                v = sw["measures"].get(q["name"])
                if v is None or "value" not in q or q.get("grade") == "GRADE_NOT_MEASURABLE":
                    continue
                x = q["value"] - v
                if q["unit"] == "deg":
                    x = (x + 180) % 360 - 180
                err.setdefault(q["name"], []).append(abs(x) / abs(v) * 100 if q["name"].startswith("racket_speed") else abs(x) * (100 if q["unit"] == "m" else 1))
                inside.setdefault("measures", []).append(q["low"] <= v <= q["high"])
                lies.setdefault("measures", []).append(abs(x) > 4 * q["sd"])
                if abs(x) > 4 * q["sd"]:
                    say("  LIE", tag, q["name"], "%.3g for %.3g sd %.2g (%.1f sd) %s" % (q["value"], v, q["sd"], x / q["sd"], q["grade"][6:]))
        spare = [when(s) for i, s in enumerate(swings) if i not in used]
        count["false"] += len(spare)
        if spare:
            say("FALSE", name, tru["view"], "at", [None if x is None else round(x, 2) for x in spare], "true", [round(s["contact"], 2) for s in tru["swings"]])
        if not ans.get("swings") and tru["swings"]:
            say("EMPTY", name, ans.get("warnings"), str(ans)[:200])
    med = lambda k: float(np.median(err[k])) if err.get(k) else None
    worst = lambda pre: max([(med(k), k) for k in err if k.startswith(pre)], default=(None, ""))
    f = {"strokes": count["true"], "found": 100 * count["found"] / count["true"], "false": 100 * count["false"] / count["true"],
         "named": 100 * count["named"] / max(1, count["found"]), "hand": 100 * count["handed"] / max(1, count["found"]),
         "contact": med("CONTACT"), "tip": med("racket_speed.tip.contact"), "lag": med("lag.max"), "turn": med("turn.shoulders.max"),
         "turns_worst": worst(("turn.", "elbow."))[0], "spacing_worst": worst(("spacing.", "contact."))[0], "hands": med("spacing.hands")}
    for k in SUMS["fwd"] + SUMS["turnev"]:
        f[k] = med(k)
    for k in ("measures", "events"):
        f[k + " inside"] = 100 * float(np.mean(inside[k])) if inside.get(k) else None
        f[k[:-1] + " lies"] = 100 * float(np.mean(lies[k])) if lies.get(k) else None
    return f


if __name__ == "__main__":
    p = argparse.ArgumentParser()
    p.add_argument("do", choices=["make", "score"])
    p.add_argument("dir")
    p.add_argument("--condition", default="W")
    p.add_argument("--clips", type=int, default=6)
    p.add_argument("--seed", type=int, default=3)
    p.add_argument("--strokes", default="")
    p.add_argument("--opt", default="{}", help="JSON: overrides of make's draws")
    p.add_argument("--quiet", action="store_true")
    a = p.parse_args()
    if a.do == "make":
        os.makedirs(a.dir, exist_ok=True)
        for i in range(a.clips):
            rng = np.random.default_rng([a.seed, i, ord(a.condition)])
            req, tru = make(rng, a.condition, [int(x) for x in a.strokes] or None, **json.loads(a.opt))
            stem = os.path.join(a.dir, "%s%d_%02d" % (a.condition, a.seed, i))
            json.dump(req, open(stem + ".json", "w"))
            json.dump(tru, open(stem + ".truth.json", "w"))
    else:
        print(json.dumps(score(a.dir, (lambda *x: None) if a.quiet else print)))
