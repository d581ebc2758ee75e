"""Events and measures of a simulated swing, from the fine motion by the definitions alone."""
import numpy as np
from motion import DT, BACKHANDS, dot, unit, rad


def deg(x):
    return np.rad2deg(x)


def rate(x, ic):
    """Rate of change on the grid, one-sided at contact from before."""
    a = np.gradient(x[:ic + 1], DT, axis=0)
    b = np.gradient(x[ic:], DT, axis=0)
    return np.concatenate([a, b[1:]])


def cross_up(x, level, lo, hi):
    """Last index before hi at which x rises through level, or None."""
    k = np.nonzero((x[lo:hi - 1] < level) & (x[lo + 1:hi] >= level))[0]
    return None if not len(k) else lo + int(k[-1]) + 1


def angle(a, b):
    return deg(np.arccos(np.clip(dot(unit(a), unit(b)), -1, 1)))


def turned(m, yaw):
    """The motion in axes turned by yaw (rad) about Y: the new X is at yaw from the old."""
    c, s = np.cos(yaw), np.sin(yaw)
    R = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    out = {k: (v @ R.T if isinstance(v, np.ndarray) and v.ndim == 2 else v) for k, v in m.items()}
    out["points"] = {k: v @ R.T for k, v in m["points"].items()}
    return out


def ready_direction(m, hd):
    """Yaw of the chest over the half second before the swing's first turn."""
    i = int(hd["start"] / DT)
    P = m["points"]
    line = P["right_shoulder"] - P["left_shoulder"]
    c = np.stack([line[:, 2], -line[:, 0]], 1)[max(0, i - 300):i + 200].mean(0)
    return np.arctan2(c[1], c[0])


def head_direction(m, hd):
    d = m["head"][hd["ic"]] - m["head"][hd["ic"] - 40]
    return np.arctan2(d[2], d[0])


def standing(m):
    P = m["points"]
    y = np.concatenate([P["left_ankle"][:, 1], P["right_ankle"][:, 1]])
    return float(np.percentile(y, 2))


def truth(m, hd, stature, edge=1.0):
    """(events in s, measures) of one swing; right-handed axes."""
    P, t, ic, st, sd = m["points"], m["t"], hd["ic"], hd["stroke"], hd["side"]
    n = m["n"]
    serve, over = st == 5, st in (5, 8)
    mid_hip = (P["left_hip"] + P["right_hip"]) / 2
    mid_sh = (P["left_shoulder"] + P["right_shoulder"]) / 2
    tip, grip, head, u = m["tip"], m["grip"], m["head"], m["u"]

    def turn(l, r):
        line = P[r] - P[l]
        return np.unwrap(np.arctan2(-line[:, 0] * sd, line[:, 2]))

    sht, hpt = turn("left_shoulder", "right_shoulder"), turn("left_hip", "right_hip")
    for a in (sht, hpt):
        a -= 2 * np.pi * np.round(a[ic] / (2 * np.pi))
    vt, vg, vh = rate(tip, ic), rate(grip, ic), rate(head, ic)
    st_, sg = np.linalg.norm(vt, axis=1), np.linalg.norm(vg, axis=1)
    ev, me = {"CONTACT": ic}, {}

    rel = hd.get("release")
    begin = max(0, (rel - 1000) if serve and rel is not None else ic - (2500 if st == 8 else 2000))
    ts_rate = rate(sht, ic)
    fast = begin + int(np.argmax(ts_rate[begin:ic]))
    slow = np.nonzero(ts_rate[begin:fast] < .2 * edge * ts_rate[fast])[0]
    if len(slow):
        ev["TURN_START"] = begin + int(slow[-1])
    start = ev.get("TURN_START", begin)
    most = sht[begin:ic].max()
    after = np.nonzero(sht[start:ic] >= (1 - .03 * edge) * most)[0]
    if len(after):
        ev["TURN_COMPLETE"] = start + int(after[0])
    tc = ev.get("TURN_COMPLETE", start)
    # split
    level = standing(m)
    low = np.minimum(P["left_ankle"][:, 1], P["right_ankle"][:, 1]) - level
    lo, hi = max(0, start - 1400), min(n - 1, start + 300)
    high, land = False, None
    for i in range(lo, hi):
        if low[i] >= .02:
            high = True
        if high and low[i] <= .005:
            high = False
            if i >= start - 1000:
                land = i
    if land is not None:
        ev["SPLIT_LANDING"] = land
    # forward start
    f = head[ic] - head[ic - 40]
    f = unit(np.array([f[0], 0, f[2]]))
    along = vg @ f
    fs = cross_up(along, .05 * edge * along[ic], max(0, ic - 1500), ic)
    if fs:
        ev["FORWARD_START"] = fs
    fs = fs or ic - 1
    if serve and rel is not None:
        ev["BALL_RELEASE"] = rel

    def knee(side):
        return angle(P[side + "_knee"] - P[side + "_hip"], P[side + "_ankle"] - P[side + "_knee"])

    ax = P["left_ankle"][ic, 0] - P["right_ankle"][ic, 0]
    front = ("left" if sd > 0 else "right") if abs(ax) < .06 else ("left" if ax > 0 else "right")
    back = "right" if front == "left" else "left"
    trophy = None
    if over:
        a = rel if serve and rel is not None else start
        trophy = a + int(np.argmax(knee(back)[a:ic]))
        ev["TROPHY"] = trophy
    a = trophy if over else tc
    # racket low and drop
    if a < ic - 2:
        k = a + int(np.argmin(tip[a:ic + 1, 1]))
        if a < k < ic:
            ev["RACKET_LOW"] = k
            y = tip[:, 1]
            tops = [i for i in range(start + 1, k) if y[i] > y[i - 1] and y[i] >= y[i + 1] and y[i] >= y[k] + .05]
            if tops:
                ev["DROP_START"] = tops[-1]
    lag = angle(u, vg) - 90
    ok = sg[fs:ic + 1] > max(.2 * sg[ic], 1.0)
    ml = fs + int(np.argmax(np.where(ok, lag[fs:ic + 1], -999)))
    ev["MAX_LAG"] = ml
    slow = np.nonzero(st_[ic + 1:] < .2 * edge * st_[ic])[0]
    if len(slow):
        ev["FOLLOW_END"] = ic + 1 + int(slow[0])
        fe = ev["FOLLOW_END"]
        good = (tip[:, 0] > mid_hip[:, 0]) & (np.abs((deg(sht) + 180) % 360 - 180) < 20)
        for i in range(fe, min(n - 100, fe + 2000)):
            if good[i:i + 100].all():
                ev["RECOVERED"] = i
                break
        me["tempo.follow_through"] = t[fe] - t[ic]
    S = {k: t[i] for k, i in ev.items()}
    if "SPLIT_LANDING" in S and "TURN_START" in S:
        me["tempo.split_to_turn"] = S["TURN_START"] - S["SPLIT_LANDING"]
    if "FORWARD_START" in S:
        if "TURN_START" in S:
            me["tempo.preparation"] = S["FORWARD_START"] - S["TURN_START"]
        me["tempo.forward_swing"] = S["CONTACT"] - S["FORWARD_START"]
    me["racket_speed.tip.contact"] = st_[ic]
    me["racket_speed.tip.peak"] = st_[start:ic + 1].max()
    me["racket_speed.head.contact"] = np.linalg.norm(vh[ic])
    me["racket_speed.hand.contact"] = sg[ic]
    path = np.linalg.norm(np.diff(tip, axis=0), axis=1)
    me["lag.tip_path"] = path[fs:ic].sum()
    me["racket_speed.tip.mean_forward"] = me["lag.tip_path"] / max(t[ic] - t[fs], DT)
    me["lag.max"], me["lag.contact"] = lag[ml], lag[ic]
    if ml < ic:
        me["lag.release_rate"] = np.max(-np.gradient(lag[ml:ic + 1], DT)) if ic - ml > 1 else 0
    me["lag.release_time"] = t[ic] - t[ml]
    ds = ev.get("DROP_START", tc)
    if ds < ml:
        me["lag.snap_back"] = path[ds:ml].sum()
    side_of = lambda v: v[:, 2] * sd
    behind = tip[ds:ic + 1, 0] < mid_hip[ds:ic + 1, 0]
    if behind.any():
        me["lag.tip_wrap"] = np.max(-side_of(tip - mid_hip)[ds:ic + 1][behind])
    d = head[ic] - head[ic - 40]
    me["path.rise_angle"] = deg(np.arctan2(d[1], np.hypot(d[0], d[2])))
    me["path.out_angle"] = deg(np.arctan2(d[2] * sd, d[0]))
    if "RACKET_LOW" in ev:
        me["path.tip_drop"] = head[ic, 1] - tip[ev["RACKET_LOW"], 1]
    me["path.hand_drop"] = head[ic, 1] - grip[fs:ic + 1, 1].min()
    me["take_back.tip_above_hands"] = tip[ds, 1] - grip[ds, 1]
    me["take_back.hands_height"] = grip[tc, 1] - mid_hip[tc, 1]
    me["take_back.tip_side"] = side_of(tip - grip)[tc]
    for nm, a in (("shoulders", deg(sht)), ("hips", deg(hpt))):
        me[f"turn.{nm}.max"] = a[begin:ic + 1].max()
        me[f"turn.{nm}.contact"] = a[ic]
        me[f"turn.{nm}.forward_range"] = a[fs] - a[ic]
    sep = deg(sht - hpt)
    me["turn.separation.max"] = sep[start:ic + 1].max()
    me["turn.separation.forward_start"], me["turn.separation.contact"] = sep[fs], sep[ic]
    hit, sup = ("left", "right") if st == 2 else ("right", "left")

    def elbow(s):
        return angle(P[s + "_elbow"] - P[s + "_shoulder"], P[s + "_wrist"] - P[s + "_elbow"])

    e = elbow(hit)
    me["elbow.hitting.forward_start"], me["elbow.hitting.contact"] = e[fs], e[ic]
    if st == 2:
        e = elbow(sup)
        me["elbow.support.forward_start"], me["elbow.support.contact"] = e[fs], e[ic]
    me["wrist.racket_forearm.max"] = angle(P[hit + "_wrist"] - P[hit + "_elbow"], u)[fs:ic + 1].max()
    me["contact.height"] = head[ic, 1]
    me["contact.height_waist"] = head[ic, 1] - mid_hip[ic, 1]
    me["contact.ahead"] = head[ic, 0] - mid_hip[ic, 0]
    me["spacing.hands"] = side_of(grip - mid_hip)[ic]
    me["spacing.clearance"] = me["spacing.hands"] - np.linalg.norm(P["right_hip"] - P["left_hip"], axis=1)[ic] / 2
    d = head[ic] - mid_sh[ic]
    me["spacing.reach"] = np.hypot(d[0], d[2])
    d = (P["right_shoulder"] - P["left_shoulder"])[ic] * sd
    me["posture.shoulder_tilt"] = deg(np.arctan2(d[1], np.hypot(d[0], d[2])))
    d = mid_sh[ic] - mid_hip[ic]
    me["posture.lean_side"], me["posture.lean_forward"] = deg(np.arctan2(d[2] * sd, d[1])), deg(np.arctan2(d[0], d[1]))
    ear = (P["left_ear"] + P["right_ear"]) / 2
    if ic + 60 < n:
        r = (ear - mid_sh)[ic - 60:ic + 61]
        me["head.stillness"] = np.sqrt(((r - r.mean(0)) ** 2).sum(1).mean())
    d = P["nose"][tc] - ear[tc]
    x = deg(sht[tc]) - deg(np.arctan2(d[2] * sd, d[0]))
    me["head.over_shoulder"] = (x + 180) % 360 - 180
    at = ev.get("SPLIT_LANDING", start)
    me["legs.base_width"] = np.linalg.norm(P["left_ankle"][at] - P["right_ankle"][at]) / stature
    me["legs.knee_back.max"], me["legs.knee_front.max"] = knee(back)[start:ic + 1].max(), knee(front)[start:ic + 1].max()
    me["legs.rise"] = mid_hip[ic, 1] - mid_hip[tc:ic + 1, 1].min()
    d = P[front + "_ankle"][ic] - P[back + "_ankle"][ic]
    me["legs.stance"] = deg(np.arctan2(d[2] * sd, d[0]))
    a = trophy if over else tc
    if a < ic - 5:
        wu = np.linalg.norm(rate(u, ic), axis=1)
        seq = [-rate(hpt, ic)[a:ic + 1], -ts_rate[a:ic + 1], sg[a:ic + 1], st_[a:ic + 1]]
        top = [int(np.argmax(q)) for q in seq]
        me["chain.hips_to_racket"] = (int(np.argmax(wu[a:ic + 1])) - top[0]) * DT
        me["chain.in_order"] = np.mean([q > p or abs(q - p) <= 5 for p, q in zip(top, top[1:])])
    me["ball.speed_in"], me["ball.speed_out"] = np.linalg.norm(hd["vin"]), np.linalg.norm(hd["vout"])
    if serve and rel is not None:
        me["serve.toss_height"] = np.nanmax(m["ball"][rel:ic + 1, 1])
    return S, me


def scored(m, hd, stature, rng, event_slack=.010):
    """Truth without what a hair's change of the motion (a slow millimetre) moves far."""
    ev, me = truth(m, hd, stature)
    for edge in (.75, 1.3):       # thresholds a quarter off: an edge that is passed slowly is no instant
        e2, _ = truth(m, hd, stature, edge)
        ev = {k: v for k, v in ev.items() if k in e2 and abs(e2[k] - v) < 4 * event_slack * (2 if k.startswith("TURN") else 1)}
    t = m["t"]
    for _ in range(2):
        x = dict(m)

        def sway():
            out = 0
            for f in (3.0, 5.5):
                out = out + .0006 * np.sin(2 * np.pi * f * t[:, None] + rng.uniform(0, 6.3, 3))
            return out

        x["points"] = {k: v + sway() for k, v in m["points"].items()}
        d = sway()
        for k in ("tip", "head", "throat", "butt"):
            x[k] = m[k] + d
        x["grip"] = m["grip"] + d + .3 * sway()
        x["tip"] = x["tip"] + .3 * sway()
        e2, m2 = truth(x, hd, stature)
        ev = {k: v for k, v in ev.items() if k in e2 and abs(e2[k] - v) < event_slack * (2 if k.startswith("TURN") else 1)}
        lim = lambda k, v: max(.12 * abs(v), 2.0 if unit_of(k) == "deg" else .01)
        me = {k: v for k, v in me.items() if k in m2 and abs(m2[k] - v) < lim(k, v)}
    hang = {"FORWARD_START": ("forward", "lag.tip_path", "tempo.preparation", "path.hand_drop", "wrist."), "TURN_START": ("tempo.preparation", "split"),
            "TURN_COMPLETE": ("take_back.", "over_shoulder"), "FOLLOW_END": ("follow",), "MAX_LAG": ("release", "snap"), "DROP_START": ("snap",)}
    for k, parts in hang.items():
        if k not in ev:
            me = {q: v for q, v in me.items() if not any(p in q for p in parts)}
    return ev, me


def unit_of(k):
    g = k.split(".")[0]
    return "deg" if g in ("turn", "elbow", "wrist", "posture") or k in ("lag.max", "lag.contact", "path.rise_angle", "path.out_angle", "legs.stance", "head.over_shoulder", "legs.knee_back.max", "legs.knee_front.max") else "m"
