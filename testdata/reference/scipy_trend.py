"""Trend of a series by scipy.stats.

stdin:  {"series": [[...], ...]}
stdout: {"slope": [...], "p": [...]}: theilslopes over 0, 1, 2 ... and the two-sided
p of Kendall's tau against time: exact without ties and up to ten values, else
the normal approximation with the continuity correction of Mann and Kendall,
z = (|S| - 1) / sd, S rebuilt from scipy's tau-b and the ties.
"""
import json
import math
import sys

import numpy as np
from scipy import stats


def p_value(y):
    x = np.arange(len(y))
    _, counts = np.unique(y, return_counts=True)
    if len(y) <= 10 and counts.max() == 1:
        return stats.kendalltau(x, y, method="exact").pvalue
    n = len(y)
    pairs = n * (n - 1) / 2
    tied = sum(c * (c - 1) / 2 for c in counts)
    s = round(stats.kendalltau(x, y).correlation * math.sqrt(pairs * (pairs - tied)))
    var = (n * (n - 1) * (2 * n + 5) - sum(c * (c - 1) * (2 * c + 5) for c in counts)) / 18
    return 2 * stats.norm.sf(max(abs(s) - 1, 0) / math.sqrt(var))


series = [np.array(y) for y in json.load(sys.stdin)["series"]]
json.dump(
    {
        "slope": [stats.theilslopes(y, np.arange(len(y))).slope for y in series],
        "p": [p_value(y) for y in series],
    },
    sys.stdout,
)
