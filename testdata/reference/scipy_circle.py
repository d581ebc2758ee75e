"""Circular mean and standard deviation in degrees, SciPy."""

import json
import sys

import numpy as np
from scipy.stats import circmean, circstd

x = np.radians(json.load(sys.stdin)["degrees"])
json.dump({"Mean": np.degrees(circmean(x)), "SD": np.degrees(circstd(x))}, sys.stdout)
