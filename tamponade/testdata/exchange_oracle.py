#!/usr/bin/env python3
"""Writes exchange_oracle.csv: the exchange of a bubble with blood, written anew
from the equations in the package comment and solved by an implicit method
(scipy.integrate.solve_ivp, Radau, relative tolerance 1e-9) with the pressure
itself as variable. Run: python3 exchange_oracle.py > exchange_oracle.csv"""

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

# Conductances per day and tissue pressures in mmHg: N2, O2, CO2, X.
NITROGEN, OXYGEN, CARBON_DIOXIDE = 4.67, 10.3, 208.0
TISSUE = np.array([573.0, 35.0, 46.0, 0.0])
CAVITY_ML, INFLOW, FACILITY, EPISCLERAL, BASELINE, RIGIDITY = 5.0, 2.5, 0.24, 8.5, 15.0, 0.0215
RESERVE = 0.004


def wall_share(f):
    if f >= 1:
        return 1.0
    return brentq(lambda x: 3 * x * x - 2 * x**3 - f, 0, 1, xtol=1e-14)


def solve(law, long_rate, share, fill, days, times):
    rate = np.array([NITROGEN, OXYGEN, CARBON_DIOXIDE, long_rate])
    day = 1440 / 1000 / CAVITY_ML  # µL/min as shares of the cavity a day
    uveoscleral = INFLOW - FACILITY * (BASELINE - EPISCLERAL)

    def f(_, y):
        amounts, p = y[:4], y[4]
        dry = 713 + p
        fill = amounts.sum() / dry
        exchange = (fill if law == "volume" else wall_share(fill)) if fill < 1 else 1.0
        d = -rate * exchange * (amounts / fill - TISSUE)
        water = 1 + math.log10(p / BASELINE) / (RIGIDITY * 1000 * CAVITY_ML) - fill
        net = day * (INFLOW - uveoscleral * min(1, p / BASELINE) - FACILITY * max(0, p - EPISCLERAL))
        if net < 0:
            net *= max(0, water) / (max(0, water) + RESERVE)
        slope = 1 / (RIGIDITY * 1000 * CAVITY_ML * math.log(10) * p)
        dp = (d.sum() / dry + net) / (slope + fill / dry)
        return np.append(d, dp)

    def nearly_gone(_, y):
        return y[:4].sum() / (713 + y[4]) - 0.004

    nearly_gone.terminal = True
    start = np.array([(1 - share) * 0.79, (1 - share) * 0.21, 0, share]) * 728 * fill
    s = solve_ivp(f, (0, days), np.append(start, BASELINE), method="Radau", rtol=1e-9, atol=1e-9, t_eval=times, max_step=0.1, events=nearly_gone)
    assert s.status >= 0, s.message
    return s


print("law,gas,rate,share,fill,day,filled,pressure")
TIMES = [1 / 24, 0.25, 1, 3, 7]
for law in ("volume", "contact area"):
    for gas, rate, share, fill in (("sf6", 0.733, 0.2, 0.85), ("c3f8", 0.1107, 0.14, 0.85), ("c3f8", 0.1107, 0.20, 0.95), ("sf6", 0.733, 1.0, 0.1), ("sf6", 0.733, 0.0, 0.7)):
        s = solve(law, rate, share, fill, TIMES[-1], TIMES)
        for i, t in enumerate(s.t):
            filled = s.y[:4, i].sum() / (713 + s.y[4, i])
            print(f"{law},{gas},{rate},{share},{fill},{float(t)!r},{float(filled)!r},{float(s.y[4, i])!r}")
