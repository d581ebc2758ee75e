"""Answers against truths: the table of one condition."""
import numpy as np

EVENTS = ["CONTACT", "FORWARD_START", "MAX_LAG", "RACKET_LOW", "DROP_START", "TURN_START", "TURN_COMPLETE"]
NEAR = .2  # s: an answer further from a contact than this is of no stroke


def pair(truths, swings):
    """Each true stroke with the answer nearest in time; the rest is false."""
    free, pairs = list(range(len(swings))), []
    for t in truths:
        best = min(free, key=lambda i: abs(contact(swings[i]) - t["contact"]), default=None)
        if best is not None and abs(contact(swings[best]) - t["contact"]) < NEAR * t["factor"]:
            free.remove(best)
            pairs.append((t, swings[best]))
        else:
            pairs.append((t, None))
    return pairs, [swings[i] for i in free]


def event(swing, kind):
    for e in swing["events"]:
        if e["kind"] == "EVENT_KIND_" + kind:
            return int(e["timeUs"]) * 1e-6, int(e["sdUs"]) * 1e-6
    return None


def contact(swing):
    e = event(swing, "CONTACT")
    return e[0] if e else -1e9


class Score:
    def __init__(self):
        self.strokes = self.found = self.false = self.named = 0
        self.errors, self.absent, self.lies, self.inside = {}, {}, [], []
        self.missed, self.extra = [], []

    def clip(self, name, truths, answer):
        pairs, false = pair(truths, answer["swings"])
        self.false += len(false)
        self.extra += [(name, contact(s), s["stroke"]) for s in false]
        for t, s in pairs:
            self.strokes += 1
            if s is None:
                self.missed.append((name, t["stroke"], t["level"], t["left"]))
                continue
            self.found += 1
            ok = s["stroke"] == "STROKE_" + t["stroke"]
            self.named += ok
            if not ok:
                self.missed.append((name, "named " + s["stroke"], t["stroke"], t["level"]))
            self._events(name, t, s)
            self._measures(name, t, s)

    def _note(self, what, key, err, sd, inside, where, rel=None):
        self.errors.setdefault(key, []).append(err if rel is None else rel)
        z = abs(err) / max(sd, 1e-9)
        self.inside.append((what, key, inside))
        if z > 4:
            self.lies.append((what, key, round(err, 4), round(sd, 4)) + where)

    def _events(self, name, t, s):
        k = t["factor"]
        for kind in EVENTS:
            if kind not in t["events"]:
                continue
            e = event(s, kind)
            if e is None:
                self.absent[kind] = self.absent.get(kind, 0) + 1
                continue
            err, sd = (e[0] - t["events"][kind]) / k, e[1] / k
            self._note("event", kind, err, sd, abs(err) < 1.96 * sd, (name, t["stroke"], t["level"]))

    def _measures(self, name, t, s):
        for m in s["measures"]:
            key = m["name"]
            if key not in t["measures"]:
                continue
            if m["grade"] == "GRADE_NOT_MEASURABLE" or m.get("value") is None:
                self.absent[key] = self.absent.get(key, 0) + 1
                continue
            want = t["measures"][key]
            err = m["value"] - want
            rel = err / want if key.startswith("racket") else None
            self._note("measure", key, err, m["sd"], m["low"] <= want <= m["high"], (name, t["stroke"], t["level"]), rel)

    def figures(self):
        """What the test holds floors on, by name: shares in %, medians in ms, %, degrees, cm."""
        def median(key, scale):
            e = np.abs(self.errors.get(key, []))
            return float(scale * np.median(e)) if len(e) else None
        def share(what, rows):
            return 100 * float(np.mean([r[2] for r in rows if r[0] == what]))
        many = lambda what: sum(i[0] == what for i in self.inside)
        return {"strokes": self.strokes, "found": 100 * self.found / self.strokes, "false": 100 * self.false / self.strokes,
                "named": 100 * self.named / max(1, self.found), "contact": median("CONTACT", 1e3),
                "tip": median("racket_speed.tip.contact", 100), "lag": median("lag.max", 1),
                "turn": median("turn.shoulders.max", 1), "hands": median("spacing.hands", 100),
                "measures inside": share("measure", self.inside), "events inside": share("event", self.inside),
                "measure lies": 100 * sum(l[0] == "measure" for l in self.lies) / many("measure"),
                "event lies": 100 * sum(l[0] == "event" for l in self.lies) / many("event")}

    def table(self):
        n = self.strokes
        out = [f"strokes {n}  found {100 * self.found / n:.1f} %  false {100 * self.false / n:.1f} %  named {100 * self.named / max(1, self.found):.1f} %"]
        for key in sorted(self.errors, key=lambda k: (k not in EVENTS, k)):
            e = np.array(self.errors[key])
            unit, scale = ("ms", 1e3) if key in EVENTS else ("%", 100) if key.startswith("racket") else ("deg", 1) if key[:3] in ("tur", "elb", "lag") else ("cm", 100)
            q = np.abs(e) * scale
            ins = [i for _, k, i in self.inside if k == key]
            out.append(f"  {key:32} n {len(e):3}  median {np.median(q):7.2f}  p90 {np.percentile(q, 90):7.2f}  bias {np.median(e) * scale:+7.2f} {unit:4} inside {100 * np.mean(ins):5.1f} %  absent {self.absent.get(key, 0)}")
        for what in ("measure", "event"):
            ins = [i for w, _, i in self.inside if w == what]
            lies = [l for l in self.lies if l[0] == what]
            out.append(f"{what}s: {len(ins)}, inside {100 * np.mean(ins):.1f} %, lies {100 * len(lies) / len(ins):.2f} %")
        return "\n".join(out)
