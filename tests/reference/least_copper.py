#!/usr/bin/env python3
"""Checks the least copper of panel trees against a mixed-integer solver.

The tests of the calculation write generated trees, and what was found for each, to target/least_copper.jsonl. Here each
tree is written as a mixed-integer program (HiGHS, by way of scipy) that knows nothing of trees: one binary for each size
of each feeder and for each way of each branch, a row for each limit. The copper must be equal.
"""

import argparse
import json
import os
import pathlib
import sys
import time

import numpy
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

# Volts are written in thousandths, so that the solver's tolerance of a row is far below what a size makes.
MILLI = 1000.0
# What a branch without a way costs beside copper: more than all copper of any tree here.
UNMET = 1e13
# Copper is handed over in thousandths of a circular mil foot; the solver gets circular mil feet.
THOUSANDTHS = 1000.0


class Program:
    """A mixed-integer program of binaries, row by row."""

    def __init__(self):
        self.costs = []
        self.rows, self.columns, self.figures = [], [], []
        self.most, self.least = [], []

    def binary(self, cost):
        """A new binary; answers its place."""
        self.costs.append(cost)
        return len(self.costs) - 1

    def row(self, terms, least, most):
        """A row: pairs of a binary and its figure, between two bounds."""
        for column, figure in terms:
            self.rows.append(len(self.most))
            self.columns.append(column)
            self.figures.append(figure)
        self.least.append(least)
        self.most.append(most)

    def solve(self):
        """The values of the binaries."""
        shape = (len(self.most), len(self.costs))
        matrix = coo_array((self.figures, (self.rows, self.columns)), shape=shape).tocsr()
        found = milp(
            numpy.array(self.costs),
            integrality=numpy.ones(len(self.costs)),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(matrix, self.least, self.most),
            options={"mip_rel_gap": 0.0, "time_limit": 300},
        )
        if found.status != 0:
            raise RuntimeError(f"the solver ended with: {found.message}")
        return found.x


def most_volts(tree, variables, part):
    """The most that the feeders of a place can take."""
    return sum(max(size[part] for size in tree["variables"][v]) for v in variables)


def solve(tree):
    """The sizes that the solver chooses, one for each variable."""
    program = Program()
    sizes = [[program.binary(size[0] / THOUSANDTHS) for size in variable] for variable in tree["variables"]]
    for binaries in sizes:
        program.row([(b, 1.0) for b in binaries], 1.0, 1.0)

    def taken(variables, part):
        return [
            (binary, size[part] * MILLI) for v in variables for binary, size in zip(sizes[v], tree["variables"][v])
        ]

    for place in tree["places"]:
        if place["own"]:
            own = place["own"]
            program.row(taken(own["positives"], 1) + taken(own["returns"], 2), -numpy.inf, own["limit_v"] * MILLI)
        there, back = taken(place["positives"], 1), taken(place["returns"], 2)
        most_back = most_volts(tree, place["returns"], 2)
        most_both = most_volts(tree, place["positives"], 1) + most_back
        for ways in place["branches"]:
            binaries = [program.binary(way[0] / THOUSANDTHS) for way in ways]
            without = program.binary(UNMET / THOUSANDTHS)
            program.row([(b, 1.0) for b in binaries + [without]], 1.0, 1.0)
            for bound, terms, most in ((1, there + back, most_both), (2, back, most_back)):
                if all(way[bound] is None for way in ways):
                    continue
                # What the feeders take is at most what the way that is chosen leaves them.
                leaves = [-min(most if way[bound] is None else way[bound], most) * MILLI for way in ways]
                program.row(terms + list(zip(binaries + [without], leaves + [-most * MILLI])), -numpy.inf, 0.0)
    values = program.solve()
    return [max(range(len(b)), key=lambda i, b=b: values[b[i]]) for b in sizes]


def worth(tree, chosen):
    """Branches without a way and copper of a choice of sizes, exactly; None when it breaks an own limit."""

    def taken(variables, part):
        return sum(tree["variables"][v][chosen[v]][part] for v in variables)

    copper = sum(variable[size][0] for variable, size in zip(tree["variables"], chosen))
    unmet = 0
    for place in tree["places"]:
        own = place["own"]
        if own and taken(own["positives"], 1) + taken(own["returns"], 2) > own["limit_v"] * (1 + 1e-9) + 1e-12:
            return None
        back = taken(place["returns"], 2)
        both = taken(place["positives"], 1) + back
        for ways in place["branches"]:
            fit = [w[0] for w in ways if (w[1] is None or both <= w[1]) and (w[2] is None or back <= w[2])]
            unmet += not fit
            copper += min(fit, default=0)
    return unmet, copper


def main():
    """Runs the check; the exit code says whether all held."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", "target"))
    options.add_argument("--trees", type=pathlib.Path, default=target / "least_copper.jsonl")
    options.add_argument("--most", type=int, default=None, help="how many trees (default: all)")
    options = options.parse_args()
    started = time.monotonic()
    trees = [json.loads(line) for line in options.trees.read_text(encoding="utf-8").splitlines()][: options.most]
    failures, largest = [], 0
    for tree in trees:
        largest = max(largest, len(tree["variables"]))
        ours = (tree["unmet"], tree["copper"])
        if worth(tree, tree["sizes"]) != ours:
            failures.append(f"tree {tree['seed']}: its sizes are worth {worth(tree, tree['sizes'])}, not {ours}")
        theirs = worth(tree, solve(tree))
        if theirs != ours:
            failures.append(f"tree {tree['seed']}: found {ours}, the solver {theirs}")
        # No single size larger is worth less.
        larger = list(tree["sizes"])
        growing = [v for v, size in enumerate(larger) if size + 1 < len(tree["variables"][v])]
        if growing:
            larger[growing[0]] += 1
            if worth(tree, larger) is not None and worth(tree, larger) < ours:
                failures.append(f"tree {tree['seed']}: a larger feeder is worth less")
    for failure in failures[:20]:
        print(failure)
    print(
        f"{len(trees)} trees of up to {largest} feeder sizes, {sum(len(p['branches']) for t in trees for p in t['places'])} "
        f"branches, against the solver in {time.monotonic() - started:.1f} s"
    )
    print(f"{len(trees) - len(failures)} passed, {len(failures)} failed")
    return 0 if trees and not failures else 1


if __name__ == "__main__":
    sys.exit(main())
