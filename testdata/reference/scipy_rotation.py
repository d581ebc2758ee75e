"""Rotations by scipy.spatial.transform.

stdin:  {"axes": [[x, y, z], ...], "degrees": [...], "pairs": [[[..3], [..3]], ...]}
stdout: {"matrices": [[9 numbers, row-major], ...], "between": [degrees, ...]}
"""
import json
import sys

import numpy as np
from scipy.spatial.transform import Rotation

q = json.load(sys.stdin)
vectors = np.array(q["axes"]) * np.radians(np.array(q["degrees"]))[:, None]
matrices = Rotation.from_rotvec(vectors).as_matrix().reshape(-1, 9)
a, b = (np.array([pair[k] for pair in q["pairs"]]) for k in (0, 1))
a = a / np.linalg.norm(a, axis=1, keepdims=True)
b = b / np.linalg.norm(b, axis=1, keepdims=True)
# The rotation about a x b that takes a to b: its vector part is half the turn.
half = np.hstack([np.cross(a, b), 1 + np.sum(a * b, axis=1, keepdims=True)])
between = np.degrees(Rotation.from_quat(half).magnitude()).tolist()
json.dump({"matrices": matrices.tolist(), "between": between}, sys.stdout)
