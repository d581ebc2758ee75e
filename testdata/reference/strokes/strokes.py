"""A second simulator of tennis strokes, written apart from the service's own.

    python3 strokes.py make DIR --condition P --swings 40 --seed 1
    courtkin analyze --json DIR/*.ndjson > answers
    python3 strokes.py score DIR answers

make writes one clip a file and truth.json; score prints how the answers compare.
Every number of postures and timing in here is invented (see plan.py); what is from
publications says so at its place.
"""
import argparse
import json
import os
import sys

import numpy as np

from clip import Clip
from plan import NAMES, VOLLEYS, OVERHEAD, SERVE
from score import Score
from session import Session
from truth import Motion, steady

CONDITIONS = "WTPIBS"


def groups(rng, n):
    """Strokes of one clip: a server serves; others mix what is played from one place."""
    kind = int(rng.integers(1, 9))
    n = min(n, int(rng.choice([1, 2, 3], p=[.5, .3, .2])))
    if kind == SERVE:
        return [SERVE] * min(n, 2)
    back = {2: [2, 4], 3: [3, 4], 4: [4, 3]}
    near = [6, 7, OVERHEAD]
    pool = near if kind in near else [1] + back.get(kind, [int(rng.choice([2, 3]))])
    return [kind] + [int(k) for k in rng.choice(pool, n - 1)]


def clips(condition, swings, seed):
    """(clip, truths) until there are enough strokes. Equal seeds give equal clips."""
    rng = np.random.default_rng([seed, CONDITIONS.index(condition)])
    done = 0
    while done < swings:
        strokes = groups(rng, swings - done)
        stature = float(np.clip(rng.normal(1.72, .14), 1.35, 1.98))
        left, level = bool(rng.random() < .2), int(rng.integers(1, 5))
        try:
            motion = Motion(Session(rng, stature, level, strokes), left, stature)
        except RuntimeError:
            continue
        clip = Clip(motion, condition, rng)
        court = condition in "WT" or (condition == "I" and clip.court_known)
        truths = []
        for hit in motion.hits:
            t = steady(motion, hit, court, rng)
            truths.append(dict(stroke=NAMES[hit.stroke], level=level, left=left, stature=stature, factor=clip.factor,
                               loss=float(hit.loss), contact=clip.clip_time(hit.at),
                               events={k: clip.clip_time(v) for k, v in t.events.items()},
                               measures={k: float(v) for k, v in t.measures.items()}))
        done += len(truths)
        yield clip, truths


def make(a):
    os.makedirs(a.dir, exist_ok=True)
    answers = {}
    for i, (clip, truths) in enumerate(clips(a.condition, a.swings, a.seed)):
        name = f"{a.condition}{a.seed}-{i:03}.ndjson"
        clip.write(os.path.join(a.dir, name))
        answers[name] = truths
    with open(os.path.join(a.dir, "truth.json"), "w") as f:
        json.dump(answers, f, indent=1)


def score(a):
    truths = json.load(open(os.path.join(a.dir, "truth.json")))
    s = Score()
    for (name, t), line in zip(sorted(truths.items()), open(a.answers)):
        s.clip(name, t, json.loads(line))
    print(json.dumps(s.figures()) if a.json else s.table())
    if a.all:
        for title, rows in (("missed or misnamed", s.missed), ("false", s.extra), ("lies", s.lies)):
            print(title)
            for r in rows:
                print("  ", *r)


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    sub = p.add_subparsers(required=True)
    m = sub.add_parser("make")
    m.add_argument("dir")
    m.add_argument("--condition", choices=list(CONDITIONS), default="P")
    m.add_argument("--swings", type=int, default=40)
    m.add_argument("--seed", type=int, default=1)
    m.set_defaults(run=make)
    c = sub.add_parser("score")
    c.add_argument("dir")
    c.add_argument("answers")
    c.add_argument("--all", action="store_true", help="print what was missed, and every lie")
    c.add_argument("--json", action="store_true", help="print the figures that the test holds")
    c.set_defaults(run=score)
    a = p.parse_args()
    a.run(a)


if __name__ == "__main__":
    sys.exit(main())
