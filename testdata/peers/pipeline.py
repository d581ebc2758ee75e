"""A plain SciPy pipeline for the same job: a swing's figures from a CSV clip.

    python3 pipeline.py clip.csv ...            one line of JSON a clip
    python3 pipeline.py --bench 200 clip.csv    milliseconds a clip, reading left out

What a laboratory script does: gaps filled in a straight line, even times, a
zero-lag fourth-order Butterworth filter, central differences, and peaks of the
striking wrist's speed. Contact is the peak of the racket tip's speed nearest to
that of the wrist. Nothing is broken at impact and no error is given; the
service is compared with it, not built on it.

A clip has a header "time_s,left_shoulder_x,left_shoulder_y,left_shoulder_z,..."
in court axes (x to the net, y up, z to the right), metres; an empty field is a
point that was not seen. Lines that start with # are comments.
"""
import argparse
import csv
import json
import math
import time

import numpy as np
from scipy import signal

CUTOFF = 12.0  # Hz: usual for segments in striking (8 to 15)
LEAST_WRIST = 3.0  # m/s: slower peaks are no swings
APART = 0.8  # s between swings
WINTER = (math.sqrt(2) - 1) ** 0.25


def read(path):
    with open(path, newline="") as f:
        rows = list(csv.reader(line for line in f if not line.startswith("#")))
    values = np.array([[float(v) if v else np.nan for v in row] for row in rows[1:]])
    points = {}
    for i, name in enumerate(rows[0]):
        if name.endswith("_x"):
            points[name[:-2]] = values[:, i : i + 3]
    return values[:, 0], points


def even(t, points):
    """Fill gaps and resample at the mean rate; (n, points, 3)."""
    grid = np.linspace(t[0], t[-1], len(t))
    out = np.empty((len(t), len(points), 3))
    for i, p in enumerate(points.values()):
        for k in range(3):
            seen = ~np.isnan(p[:, k])
            out[:, i, k] = np.interp(grid, t[seen], p[seen, k])
    return grid, out


def smooth(x, rate):
    w = math.atan(math.tan(math.pi * CUTOFF / rate) / WINTER) / math.pi * 2
    b, a = signal.butter(2, w)
    return signal.filtfilt(b, a, x, axis=0)


def turn(left, right, side):
    """Degrees that the line left to right is turned to the hitting side from facing the net."""
    line = right - left
    return np.degrees(np.unwrap(np.arctan2(-line[:, 0] * side, line[:, 2])))


def analyze(t, points):
    names = list(points)
    grid, x = even(t, points)
    rate = (len(grid) - 1) / (grid[-1] - grid[0])
    x = smooth(x, rate)
    v = np.gradient(x, 1 / rate, axis=0)
    speed = np.linalg.norm(v, axis=2)
    at = {n: i for i, n in enumerate(names)}
    wrist = speed[:, at["right_wrist"]]
    peaks, _ = signal.find_peaks(wrist, height=LEAST_WRIST, distance=max(1, int(APART * rate)))
    swings = []
    for p in peaks:
        tip = speed[:, at["racket_tip"]]
        lo, hi = max(p - int(0.15 * rate), 0), min(p + int(0.15 * rate), len(tip) - 1)
        c = lo + int(np.argmax(tip[lo : hi + 1]))
        if tip[c] < 2 * LEAST_WRIST:
            continue
        # Struck on the right of the body: a forehand. Turns toward -z are a backhand's.
        hips = (x[c, at["left_hip"]] + x[c, at["right_hip"]]) / 2
        side = -1.0 if x[c, at["racket_tip"], 2] > hips[2] else 1.0
        back = slice(max(c - int(2 * rate), 0), c + 1)
        shoulders = turn(x[:, at["left_shoulder"]], x[:, at["right_shoulder"]], -side)
        trunk = turn(x[:, at["left_hip"]], x[:, at["right_hip"]], -side)
        grip = x[:, at["racket_butt"]]
        axis = x[:, at["racket_tip"]] - grip
        move = v[:, at["racket_butt"]]
        cos = np.sum(axis * move, axis=1) / (np.linalg.norm(axis, axis=1) * np.linalg.norm(move, axis=1) + 1e-9)
        lag = np.degrees(np.arccos(np.clip(cos, -1, 1))) - 90
        fast = slice(max(c - int(0.25 * rate), 0), c + 1)
        moving = np.where(speed[fast, at["racket_butt"]] > 1, lag[fast], -180)
        swings.append(
            {
                "contact_s": float(grid[c]),
                "stroke": "forehand" if side < 0 else "backhand",
                "tip_speed_contact": float(tip[c]),
                "wrist_speed_peak": float(wrist[p]),
                "shoulder_turn_max": float(shoulders[back].max()),
                "shoulder_turn_contact": float(shoulders[c]),
                "hip_turn_max": float(trunk[back].max()),
                "lag_max": float(moving.max()),
                "contact_ahead": float(x[c, at["racket_tip"], 0] - hips[0]),
            }
        )
    return swings


def main():
    args = argparse.ArgumentParser(description="A plain SciPy swing pipeline.")
    args.add_argument("--bench", type=int, default=0, metavar="N", help="time N runs a clip")
    args.add_argument("clips", nargs="+")
    a = args.parse_args()
    for path in a.clips:
        t, points = read(path)
        if not a.bench:
            print(json.dumps({"clip": path, "swings": analyze(t, points)}))
            continue
        analyze(t, points)
        start = time.perf_counter()
        for _ in range(a.bench):
            analyze(t, points)
        took = (time.perf_counter() - start) / a.bench
        print(f"{path}: {1e3 * took:.2f} ms a clip, {len(t)} frames, {1e6 * took / len(t):.2f} us a frame")


if __name__ == "__main__":
    main()
