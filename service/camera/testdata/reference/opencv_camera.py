"""Answers the camera questions of opencv_test.go with OpenCV (Debian's python3-opencv).

Reads one JSON object from standard input, writes one to standard output:
  views:  R (9, row-major), t (3), f, k1, cx, cy
  world:  points in metres
  pixels: for each view, noisy pixels of the points
  marks:  world points and noisy pixels of one camera, for solvePnP and calibrateCamera
"""
import json
import sys

import cv2
import numpy as np


def matrix(v):
    return np.array([[v["f"], 0, v["cx"]], [0, v["f"], v["cy"]], [0, 0, 1.0]])


def project(v, world):
    r, _ = cv2.Rodrigues(np.array(v["R"]).reshape(3, 3))
    px, _ = cv2.projectPoints(np.array(world), r, np.array(v["t"]), matrix(v), np.array([v["k1"], 0, 0, 0.0]))
    return px.reshape(-1, 2)


def undistort(v, pixels):
    stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 100, 1e-12)
    d = np.array([v["k1"], 0, 0, 0.0])
    p = np.array(pixels, dtype=float).reshape(-1, 1, 2)
    return cv2.undistortPointsIter(p, matrix(v), d, None, None, stop).reshape(-1, 2)


def triangulate(a, b, pa, pb):
    """Optimal two-view points: pixels corrected onto the epipolar lines, then met."""
    def p34(v):
        return np.hstack([np.array(v["R"]).reshape(3, 3), np.array(v["t"]).reshape(3, 1)])
    ra, rb = p34(a)[:, :3], p34(b)[:, :3]
    r = rb @ ra.T
    t = p34(b)[:, 3] - r @ p34(a)[:, 3]
    tx = np.array([[0, -t[2], t[1]], [t[2], 0, -t[0]], [-t[1], t[0], 0]])
    f = np.linalg.inv(matrix(b)).T @ tx @ r @ np.linalg.inv(matrix(a))
    pa, pb = np.array(pa).reshape(1, -1, 2), np.array(pb).reshape(1, -1, 2)
    ca, cb = cv2.correctMatches(f, pa, pb)
    x = cv2.triangulatePoints(matrix(a) @ p34(a), matrix(b) @ p34(b), ca[0].T, cb[0].T)
    return (x[:3] / x[3]).T


def pnp(m):
    stop = dict(flags=cv2.SOLVEPNP_ITERATIVE)
    world, px = np.array(m["world"]), np.array(m["pixels"])
    ok, r, t = cv2.solvePnP(world, px, matrix(m), None, **stop)
    assert ok
    crit = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-15)
    r, t = cv2.solvePnPRefineLM(world, px, matrix(m), None, r, t, crit)
    rot, _ = cv2.Rodrigues(r)
    return (-rot.T @ t).ravel()


def calibrate(m):
    flags = (cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_FIX_ASPECT_RATIO
             | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3)
    crit = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 500, 1e-15)
    size = (int(2 * m["cx"]), int(2 * m["cy"]))
    _, k, d, r, t = cv2.calibrateCamera([np.array(m["world"], dtype=np.float32)], [np.array(m["pixels"], dtype=np.float32)],
                                        size, matrix(m), np.zeros(5), flags=flags, criteria=crit)
    rot, _ = cv2.Rodrigues(r[0])
    return [k[0, 0], d.ravel()[0]] + (-rot.T @ t[0]).ravel().tolist()


q = json.load(sys.stdin)
v = q["views"]
json.dump({
    "version": cv2.__version__,
    "projected": [project(w, q["world"]).tolist() for w in v],
    "rays": [undistort(w, p).tolist() for w, p in zip(v, q["pixels"])],
    "points": triangulate(v[0], v[1], q["pinhole"][0], q["pinhole"][1]).tolist(),
    "center": pnp(q["marks"]).tolist(),
    "calibrated": calibrate(q["marks"]),
}, sys.stdout)
