"""State-space smoothing by statsmodels: exact diffuse start, uneven times, gaps.

Position, velocity and acceleration driven by white jerk of density q, a
position measured at uneven times (statsmodels.tsa.statespace.KalmanSmoother;
Durbin & Koopman 2012). Its smoothed states of the diffuse start itself are not
to be had with steps that vary (0.13.5); white jerk reads the same backwards, so
each half is taken from the pass that starts at the other end.

stdin:  {"t": [...], "z": [... or null], "sd": [...], "q": number}
stdout: {"x": [[p, v, a], ...], "var": [[p, v, a], ...]}
"""
import json
import sys

import numpy as np
from statsmodels.tsa.statespace.kalman_smoother import KalmanSmoother


def smooth(t, z, sd, density):
    n = len(t)
    h = np.append(np.diff(t), 1.0)  # the last step leads nowhere
    one, zero = np.ones(n), np.zeros(n)
    model = KalmanSmoother(k_endog=1, k_states=3, k_posdef=3)
    model.bind(np.ascontiguousarray(z.reshape(-1, 1)))
    model["design"] = np.array([[1.0, 0, 0]])
    model["obs_cov"] = (sd**2).reshape(1, 1, n)
    model["transition"] = np.array([[one, h, h * h / 2], [zero, one, h], [zero, zero, one]])
    model["selection"] = np.eye(3)
    model["state_cov"] = density * np.array(
        [[h**5 / 20, h**4 / 8, h**3 / 6], [h**4 / 8, h**3 / 3, h**2 / 2], [h**3 / 6, h**2 / 2, h]]
    )
    model.initialize_diffuse()
    found = model.smooth()
    return found.smoothed_state.T, np.diagonal(found.smoothed_state_cov, axis1=0, axis2=1)


q = json.load(sys.stdin)
t = np.array(q["t"])
z = np.array([np.nan if v is None else v for v in q["z"]], dtype=float)
sd = np.array(q["sd"])
unit = np.mean(np.diff(t))  # time is counted in mean steps: the diffuse start is judged by size
density = q["q"] * unit**5
x, var = smooth(t / unit, z, sd, density)
back, back_var = smooth(-t[::-1] / unit, z[::-1], sd[::-1], density)
half = len(t) // 2
var = var.copy()
x[:half], var[:half] = back[::-1][:half] * np.array([1, -1, 1]), back_var[::-1][:half]
scale = unit ** -np.arange(3.0)
json.dump({"x": (x * scale).tolist(), "var": (var * scale**2).tolist()}, sys.stdout)
