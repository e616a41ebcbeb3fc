#!/usr/bin/python3
"""Cost of the cheapest path through grids, by scikit-image's skimage.graph.

Reads JSON lines {"rows", "columns", "step", "step_cost", "cost"} with the cost
column after column, and prints the cheapest cost of each, one a line. Only
offsets to the next column are allowed. scikit-image (Debian python3-skimage,
0.19) measures the length of an offset; its vertical part is the square root of
length squared less one.
"""
import json
import sys

import numpy as np
from skimage.graph import MCP_Flexible


class Stepped(MCP_Flexible):
    step_cost = 0.0

    def travel_cost(self, old_cost, new_cost, offset_length):
        return new_cost + self.step_cost * np.sqrt(max(offset_length**2 - 1, 0))


for line in sys.stdin:
    grid = json.loads(line)
    rows, columns, step = grid["rows"], grid["columns"], grid["step"]
    cost = np.array(grid["cost"], dtype=np.float64).reshape(columns, rows).T
    search = Stepped(cost, offsets=[(d, 1) for d in range(-step, step + 1)])
    search.step_cost = grid["step_cost"]
    sums, _ = search.find_costs([(r, 0) for r in range(rows)])
    print(repr(float(sums[:, -1].min())))
