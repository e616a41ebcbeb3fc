"""The library's side of scripts/path-race.

Usage: path_race.py PATHRACE ROWS COLUMNS ROUNDS [LEAST_RATIO]

PATHRACE is the built command internal/pathrace. Both sides search the image of
costs that it writes for the cheapest path from any row of the first column to
any row of the last, one column and at most three rows a step. They take turns,
ROUNDS times each in this one run. Both must find the same cost, and both paths
must have the cost that is claimed for them. With LEAST_RATIO the run also fails
when the library's best time is less than LEAST_RATIO times the best time of Go.

The library: scikit-image, skimage.graph.MCP, compiled code on a binary heap. It
stops at the first node of the last column that it settles, which is the cheapest
one. Its time is that of find_costs and traceback; building the MCP object is
told beside it and does not count, to its advantage.
"""

import os
import subprocess
import sys
import tempfile
import time

import numpy
import skimage
from skimage.graph import MCP

MAX_STEP = 3


def path_cost(costs, rows):
    """Cost of a path given by its row in every column; fails on a jump."""
    if len(rows) != costs.shape[1] or max(abs(numpy.diff(rows)), default=0) > MAX_STEP:
        raise SystemExit("path-race: a path jumps or does not cross the image")
    return costs[rows, numpy.arange(len(rows))].sum()


def library_search(costs):
    """Seconds to build, seconds to search, cost, row in every column."""
    rows, columns = costs.shape
    starts = [(r, 0) for r in range(rows)]
    ends = [(r, columns - 1) for r in range(rows)]
    begun = time.perf_counter()
    graph = MCP(costs, offsets=[(step, 1) for step in range(-MAX_STEP, MAX_STEP + 1)])
    built = time.perf_counter()
    total, _ = graph.find_costs(starts, ends, find_all_ends=False)
    end = int(numpy.argmin(total[:, -1]))
    path = graph.traceback((end, columns - 1))
    done = time.perf_counter()
    return built - begun, done - built, float(total[end, -1]), numpy.array([r for r, _ in path])


def main():
    program, rows, columns, rounds = sys.argv[1], *map(int, sys.argv[2:5])
    least = float(sys.argv[5]) if len(sys.argv) > 5 else None
    go_times, build_times, library_times = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        name = os.path.join(folder, "costs")
        side = subprocess.Popen(
            [program, "-rows", str(rows), "-columns", str(columns), name],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1,
        )
        costs = None
        for _ in range(rounds):
            side.stdin.write("\n")
            answer = side.stdout.readline().split()
            if not answer:
                raise SystemExit("path-race: the Go side ended early")
            if costs is None:
                costs = numpy.fromfile(name, "<f4").reshape(columns, rows).T.astype(numpy.float64, order="C")
            go_times.append(int(answer[0]) / 1e9)
            go_cost, go_path = float(answer[1]), numpy.array(answer[2:], int)
            built, searched, library_cost, library_path = library_search(costs)
            build_times.append(built)
            library_times.append(searched)
            for who, claimed, found in (
                ("Go", go_cost, path_cost(costs, go_path)),
                ("library", library_cost, path_cost(costs, library_path)),
            ):
                if claimed != found:
                    raise SystemExit(f"path-race: the {who} path costs {found}, not {claimed}")
            # Whole numbers below 2**24: no rounding on either side.
            if go_cost != library_cost:
                raise SystemExit(f"path-race: Go finds a cost of {go_cost}, the library {library_cost}")
        side.stdin.close()
        if side.wait() != 0:
            raise SystemExit("path-race: the Go side failed")
    go, library = min(go_times), min(library_times)
    print(f"image {rows} x {columns}, step at most {MAX_STEP} rows, best of {rounds} turns each")
    print(f"equal cost: {go_cost:.0f} (same path: {'yes' if (go_path == library_path).all() else 'no, a tie'})")
    print(f"surface.MinimumPath                  {go * 1e3:9.2f} ms  (median {numpy.median(go_times) * 1e3:.2f})")
    print(f"skimage.graph.MCP {skimage.__version__:18s} {library * 1e3:9.2f} ms  (median {numpy.median(library_times) * 1e3:.2f};"
          f" building it {min(build_times) * 1e3:.2f} more)")
    print(f"ratio                                {library / go:9.1f}")
    if least is not None and library < least * go:
        raise SystemExit(f"path-race: less than {least:g} times faster")


if __name__ == "__main__":
    main()
