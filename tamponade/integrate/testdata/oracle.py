#!/usr/bin/env python3
"""Writes oracle.csv: solutions of test problems by scipy.integrate.solve_ivp
(DOP853, relative tolerance 1e-13), a method and a program other than ours.
Run: python3 oracle.py > oracle.csv"""

import numpy as np
from scipy.integrate import solve_ivp

PROBLEMS = {
    "decay": (lambda t, y: [-y[0]], [1.0], 10.0),
    "oscillator": (lambda t, y: [y[1], -y[0]], [1.0, 0.0], 20.0),
    "lotka-volterra": (lambda t, y: [1.5 * y[0] - y[0] * y[1], -3 * y[1] + y[0] * y[1]], [10.0, 5.0], 15.0),
    "van der pol": (lambda t, y: [y[1], 2 * (1 - y[0] ** 2) * y[1] - y[0]], [2.0, 0.0], 20.0),
    # Three gases and a pressure whose bubble ends by contact area.
    "bubble": (
        lambda t, y: [-4 * np.sqrt(sum(y)) * (y[0] / sum(y) - 0.787), -0.1 * np.sqrt(sum(y)) * y[1] / sum(y)],
        [0.7, 0.3],
        8.0,
    ),
}

print("problem,t,component,value")
for name, (f, start, end) in PROBLEMS.items():
    times = np.linspace(0, end, 9)[1:]
    s = solve_ivp(f, (0, end), start, method="DOP853", rtol=1e-13, atol=1e-14, t_eval=times)
    assert s.success, s.message
    for i, t in enumerate(s.t):
        for j in range(len(start)):
            print(f"{name},{float(t)!r},{j},{float(s.y[j, i])!r}")
