"""An independent smoother: covariance filter and Rauch-Tung-Striebel pass.

Position, velocity and acceleration driven by white jerk of density q, a
position measured at uneven times. Nothing is assumed of the first state d: the
filter runs with d known exactly, once for d = 0 and once for each of its three
unit vectors; d then follows by least squares over the innovations and its
covariance is added (de Jong 1991, Annals of Statistics 19:1073).

stdin:  {"t": [...], "z": [... or null], "sd": [...], "q": number}
stdout: {"x": [[p, v, a], ...], "var": [[p, v, a], ...]}
"""
import json
import sys

import numpy as np

L = np.longdouble


def transition(h, q):
    f = np.array([[1, h, h * h / 2], [0, 1, h], [0, 0, 1]], dtype=L)
    noise = q * np.array(
        [[h**5 / 20, h**4 / 8, h**3 / 6], [h**4 / 8, h**3 / 3, h**2 / 2], [h**3 / 6, h**2 / 2, h]], dtype=L
    )
    return f, noise


def inverse(m):
    rows = np.array([np.cross(m[1], m[2]), np.cross(m[2], m[0]), np.cross(m[0], m[1])], dtype=L)
    return rows.T / np.dot(m[0], rows[0])


def smooth(t, z, sd, q):
    # Columns of m: the state for d = 0, then what each component of d adds.
    m = np.hstack([np.zeros((3, 1), dtype=L), np.eye(3, dtype=L)])
    p = np.zeros((3, 3), dtype=L)
    info, vec = np.zeros((3, 3), dtype=L), np.zeros(3, dtype=L)
    filtered, predicted, moves = [], [], []
    for k in range(len(t)):
        f, noise = transition(t[k] - t[k - 1] if k else L(0), q)
        m, p = f @ m, f @ p @ f.T + noise
        predicted.append((m, p))
        moves.append(f)
        if z[k] is not None:
            s = p[0, 0] + sd[k] ** 2
            innovation = np.array([L(z[k]), 0, 0, 0], dtype=L) - m[0]
            info += np.outer(innovation[1:], innovation[1:]) / s
            vec -= innovation[1:] * innovation[0] / s
            gain = p[:, 0] / s
            m = m + np.outer(gain, innovation)
            p = p - np.outer(gain, gain) * s
        filtered.append((m, p))
    spread = inverse(info)
    d = np.concatenate([[L(1)], spread @ vec])
    (m, p), out = filtered[-1], []
    for k in range(len(t) - 1, -1, -1):
        if k < len(t) - 1:
            (mf, pf), (mp, pp) = filtered[k], predicted[k + 1]
            c = pf @ moves[k + 1].T @ inverse(pp)
            m, p = mf + c @ (m - mp), pf + c @ (p - pp) @ c.T
        out.append((m @ d, np.diag(p + m[:, 1:] @ spread @ m[:, 1:].T)))
    return out[::-1]


q = json.load(sys.stdin)
states = smooth([L(v) for v in q["t"]], q["z"], [L(v) for v in q["sd"]], L(q["q"]))
json.dump(
    {"x": [[float(v) for v in x] for x, _ in states], "var": [[float(v) for v in var] for _, var in states]},
    sys.stdout,
)
