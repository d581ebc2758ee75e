"""Zero-lag Butterworth filter by scipy.signal.

stdin:  {"x": [...], "cutoff": Hz, "rate": Hz, "pad": samples}
stdout: {"b": [...], "a": [...], "y": [...]}
b and a are the single pass at the cutoff; y is filtfilt with the cutoff raised,
on the axis tan(pi f / rate), by Winter's 1 / (sqrt 2 - 1)^(1/4).
"""
import json
import math
import sys

from scipy import signal

q = json.load(sys.stdin)
cutoff, rate = q["cutoff"], q["rate"]
b, a = signal.butter(2, cutoff / (rate / 2))
raised = math.atan(math.tan(math.pi * cutoff / rate) / (math.sqrt(2) - 1) ** 0.25) * rate / math.pi
bz, az = signal.butter(2, raised / (rate / 2))
y = signal.filtfilt(bz, az, q["x"], padtype="odd", padlen=q["pad"])
json.dump({"b": list(b), "a": list(a), "y": list(y)}, sys.stdout)
