"""First and second derivative of a moving parabola (Savitzky–Golay), SciPy."""

import json
import sys

from scipy.signal import savgol_filter

q = json.load(sys.stdin)
window = 2 * q["half"] + 1
answer = {
    name: savgol_filter(q["y"], window, 2, deriv=order, delta=q["dt"], mode="interp").tolist()
    for name, order in (("First", 1), ("Second", 2))
}
json.dump(answer, sys.stdout)
