"""Cubic smoothing spline by scipy.interpolate.make_smoothing_spline.

stdin:  {"t": [...], "y": [...], "w": [...], "lam": number or null, "at": [...]}
stdout: {"value": [...], "first": [...], "second": [...]} at the times "at"
With lam null the spline is chosen by generalised cross-validation.
"""
import json
import sys

import numpy as np
from scipy.interpolate import make_smoothing_spline

q = json.load(sys.stdin)
s = make_smoothing_spline(np.array(q["t"]), np.array(q["y"]), w=np.array(q["w"]), lam=q["lam"])
at = np.array(q["at"])
json.dump({"value": list(s(at)), "first": list(s.derivative(1)(at)), "second": list(s.derivative(2)(at))}, sys.stdout)
