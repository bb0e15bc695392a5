#!/usr/bin/env python3
"""Checks cut plans of a running service against an independent mixed-integer solver.

Made-up jobs, few lengths and many, of 5 to 60 pieces of 5 to 49 ft on 1 to 5 stock lengths of 25 to 500 ft, finite and
endless, to measure, with and without an allowance for each cut, are sent to /v1/calculators/cut-plan (the service's
address is in RIGBILL_URL, a key in RIGBILL_KEY). Each answer is looked at by itself:

  plan      each piece is cut exactly once, no stock length is overdrawn or used more often than there are, and cost, waste
            and offcuts are those of the cuts
  claims    `optimal` and `lower_bound` say the same
  order     the same job with its lists turned round has the same answer (one job in ten)

Then the job is written as a flow through the places along a stock length (J. M. Valério de Carvalho, Exact solution of
bin-packing problems using column generation and branch-and-bound, Annals of Operations Research 86, 1999) and solved
by HiGHS, which knows nothing of the service's search. Where the plan is said to be optimal, the solver must find the same
cost; where it is not, the solver's cost is no less than the bound and no more than the cost. Whole numbers of stock lengths, with
fractions of their cuts, decide alone where they come to the cost of a plan that was looked at.
"""

import argparse
import http.client
import json
import math
import os
import random
import sys
import time
import urllib.parse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from decimal import Decimal

import numpy
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

# The least share of jobs whose plan must be proven.
PROVEN = 0.95
# Seconds of a processor that the solver has for one job, how often as long it may take where others are busy there, and
# the share of jobs that it may leave open.
SOLVER_S = 10
BUSY = 6
OPEN = 0.04


def job(seed):
    """A made-up job as it is sent."""
    dice = random.Random(seed)
    pieces = dice.randint(5, 60)
    # Lengths are whole tenths of a foot where there are few of them, whole feet or halves where there are many.
    if few := dice.random() < 0.5:
        step = dice.choice(["0.1", "0.5", "1"])
        pool = [length(dice, step) for _ in range(dice.randint(2, 7))]
    else:
        step = dice.choice(["1", "1", "1", "0.5"])
    lengths = [dice.choice(pool) if few else length(dice, step) for _ in range(pieces)]
    kinds = dice.randint(1, 5)
    usual = dice.random() < 0.7
    stock_lengths = dice.sample([25, 50, 75, 100, 150, 200, 250, 300, 400, 500] if usual else range(25, 501), kinds)
    if max(stock_lengths) < max(lengths) + 1:
        stock_lengths[0] = dice.choice([50, 100, 250, 500])
    finite = kinds > 1 and dice.random() < 0.35
    stock = []
    for feet in stock_lengths:
        row = {"sku": f"S-{feet}", "length": str(feet), "price": f"{feet * dice.uniform(0.25, 0.45):.2f}"}
        if finite and feet != max(stock_lengths):
            row["available"] = dice.randint(1, 4)
        elif dice.random() < 0.5:
            row["available"] = None
        stock.append(row)
    if dice.random() < 0.35:
        stock.append({"sku": "S-FT", "price_per_unit": f"{dice.uniform(0.3, 0.7):.2f}"})
    return {
        "unit": "ft",
        "pieces": [{"label": f"P{n:02}", "length": str(feet), "count": 1} for n, feet in enumerate(lengths)]
        if dice.random() < 0.5
        else [{"label": f"L{feet}", "length": str(feet), "count": n} for feet, n in Counter(lengths).items()],
        "stock": stock,
        "allowance_per_cut": dice.choice(["0", "0", "0", step]),
        "minimum_offcut": "3",
    }


def length(dice, step):
    """A length from 5 to 49 ft in steps."""
    return 5 + Decimal(step) * dice.randint(0, int(44 / Decimal(step)))


class Service:
    """A connection that is kept open: one request after another."""

    def __init__(self):
        address = urllib.parse.urlsplit(os.environ["RIGBILL_URL"])
        self.connection = http.client.HTTPConnection(address.hostname, address.port, timeout=120)

    def plan(self, asked):
        """The plan of a job."""
        headers = {"Authorization": f"Bearer {os.environ['RIGBILL_KEY']}", "Content-Type": "application/json"}
        self.connection.request("POST", "/v1/calculators/cut-plan", json.dumps(asked), headers)
        response = self.connection.getresponse()
        text = response.read().decode()
        if response.status != 200:
            raise RuntimeError(f"{response.status}: {text}")
        return json.loads(text)


def faults(asked, plan):
    """What is wrong with a plan by itself."""
    allowance = Decimal(asked["allowance_per_cut"])
    stock = {row["sku"]: row for row in asked["stock"]}
    wanted, met, used = Counter(), Counter(), Counter()
    for piece in asked["pieces"]:
        wanted[piece["label"], Decimal(piece["length"])] += piece["count"]
    cost = waste = Decimal(0)
    for use in plan["used"]:
        row, count = stock[use["sku"]], use["count"]
        pieces = Decimal(0)
        taken = Decimal(0)
        for cut in use["cuts"]:
            met[cut["label"], Decimal(cut["length"])] += cut["count"] * count
            pieces += Decimal(cut["length"]) * cut["count"]
            taken += (Decimal(cut["length"]) + allowance) * cut["count"]
        if "price_per_unit" in row:
            cost += taken * Decimal(row["price_per_unit"]) * count
            waste += (taken - pieces) * count
            continue
        end = Decimal(row["length"]) - taken
        used[use["sku"]] += count
        cost += Decimal(row["price"]) * count
        waste += (Decimal(row["length"]) - pieces) * count
        if end < 0:
            yield f"{use['sku']} is overdrawn"
        if Decimal(use["offcut"]) != (end if end >= Decimal(asked["minimum_offcut"]) else 0):
            yield f"{use['sku']} leaves {end}, not {use['offcut']}"
    if met != wanted:
        yield "not every piece is cut once"
    for sku, count in used.items():
        available = stock[sku].get("available")
        if available is not None and available < count:
            yield f"there are not {count} of {sku}"
    if cost != Decimal(plan["cost"]) or waste != Decimal(plan["waste"]):
        yield f"it costs {cost} and wastes {waste}"
    bound = Decimal(plan["lower_bound"])
    if bound > cost or plan["optimal"] != (bound == cost):
        yield "what it claims does not agree"


class Flow:
    """A job as a flow: in whole units of length and of money."""

    def __init__(self, asked):
        exact = [Decimal(piece["length"]) for piece in asked["pieces"]] + [Decimal(asked["allowance_per_cut"])]
        unit = max((-value.as_tuple().exponent for value in exact), default=0)
        self.per_foot = 10**unit
        whole = lambda value: int(Decimal(value) * self.per_foot)
        demand = Counter()
        for piece in asked["pieces"]:
            demand[whole(piece["length"]) + whole(asked["allowance_per_cut"])] += piece["count"]
        self.demand = sorted(demand.items(), reverse=True)
        lengths = [row for row in asked["stock"] if "length" in row]
        self.kinds = sorted(
            (whole(row["length"]), int(Decimal(row["price"]) * 100) * self.per_foot, row.get("available")) for row in lengths
        )
        measured = [row["price_per_unit"] for row in asked["stock"] if "price_per_unit" in row]
        # A cent a foot is a unit of money for each unit of length.
        self.measure = int(Decimal(measured[0]) * 100) if measured else None
        self.coin = math.gcd(*(price for _, price, _ in self.kinds))
        if self.measure:
            self.coin = math.gcd(self.coin, *(self.measure * length for length, _ in self.demand))
        self.build()

    def cost(self, text):
        """A cost of the service in units of money; exact, or it would not be whole."""
        cost = Decimal(text) * 100 * self.per_foot
        return int(cost) if cost == int(cost) else cost

    def build(self):
        """The programme: arcs of pieces, ends, stock lengths, and pieces to measure."""
        longest = self.kinds[-1][0]
        pieces = sum(count for _, count in self.demand)
        costs, most = [], []
        entries = []  # row, column, figure
        places = {0: 0}
        arcs = []
        # Pieces lie along a stock length by falling length.
        starts = {0}
        for kind, (length, count) in enumerate(self.demand):
            reached = set()
            for start in starts:
                for n in range(count):
                    end = start + length * (n + 1)
                    if end > longest:
                        break
                    arcs.append((start + length * n, end, kind))
                    reached.add(end)
            starts |= reached
        arcs = sorted(set(arcs))
        for place in sorted(starts):
            places.setdefault(place, len(places))
        rows = len(places)  # what flows in, flows out
        for start, end, kind in arcs:
            column = len(costs)
            costs.append(0)
            most.append(self.demand[kind][1])
            entries += [(places[start], column, 1), (places[end], column, -1), (rows + kind, column, 1)]
        ends = {}
        for place in starts - {0}:
            ends[place] = len(costs)
            entries.append((places[place], len(costs), 1))
            costs.append(0)
            most.append(pieces)
        # The flow begins with the first cut of each stock length.
        entries.append((places[0], len(costs), -1))
        costs.append(0)
        most.append(pieces)
        counts = rows + len(self.demand)
        self.taken = []
        for _, price, there in self.kinds:
            self.taken.append(len(costs))
            costs.append(price)
            most.append(pieces if there is None else min(there, pieces))
        self.measured = []
        if self.measure:
            for kind, (length, count) in enumerate(self.demand):
                entries.append((rows + kind, len(costs), 1))
                self.measured.append(len(costs))
                costs.append(self.measure * length)
                most.append(count)
        least_rows = [0] * rows + [count for _, count in self.demand]
        most_rows = list(least_rows)
        # As many stock lengths of a length or more as there are cuts that need it.
        shorter = 0
        for n, (length, _, _) in enumerate(self.kinds):
            row = counts + n
            for place, column in ends.items():
                if place > shorter:
                    entries.append((row, column, 1))
            for column in self.taken[n:]:
                entries.append((row, column, -1))
            least_rows.append(-numpy.inf)
            most_rows.append(0)
            shorter = length
        self.costs = numpy.array(costs, dtype=float)
        row, column, figure = zip(*entries)
        self.matrix = coo_array((figure, (row, column)), shape=(len(least_rows), len(costs))).tocsr()
        self.least, self.most, self.bounds = numpy.array(least_rows, float), numpy.array(most_rows, float), numpy.array(most, float)

    def solve(self, whole, seconds=SOLVER_S):
        """The solver's answer, where some columns are whole numbers; and what its costs were divided by."""
        scale = max(self.costs.max(), 1)
        integrality = numpy.zeros(len(self.costs))
        integrality[whole] = 1
        limit = seconds
        while True:
            before = time.process_time()
            found = milp(
                self.costs / scale,
                integrality=integrality,
                bounds=Bounds(0, self.bounds),
                constraints=LinearConstraint(self.matrix, self.least, self.most),
                options={"mip_rel_gap": 0.0, "time_limit": limit},
            )
            used = time.process_time() - before
            # Its limit is by the clock. Where the processor was not its own it begins again with what it was kept from.
            if found.status != 1 or used > 0.8 * seconds or limit >= BUSY * seconds:
                return found, scale
            limit = min(BUSY * seconds, 1.2 * limit * seconds / max(used, 0.1))

    def rounded_up(self, cost):
        """The least cost that can be and is not below one that the solver reckoned in floats."""
        return math.ceil(cost / self.coin - 1e-6 - 1e-9 * cost / self.coin) * self.coin

    def least_cost(self, reached):
        """The least cost, or None and a bound where the solver ran out of time. `reached` is what a plan costs."""
        # First with whole numbers of stock lengths only, and fractions of their cuts: often that is enough.
        relaxed, scale = self.solve(self.taken)
        least = self.rounded_up(relaxed.mip_dual_bound * scale) if relaxed.mip_dual_bound is not None else 0
        if least >= reached:
            return least, least
        found, scale = self.solve(slice(None))
        if found.status == 0:
            # Reckoned again from whole numbers.
            cost = sum(int(round(self.costs[c])) * int(round(found.x[c])) for c in self.taken + self.measured)
            return cost, cost
        bound = found.mip_dual_bound
        return None, max(least, self.rounded_up(bound * scale) if bound is not None else 0)


def turned(asked):
    """The same job with its lists the other way round."""
    return {**asked, "pieces": asked["pieces"][::-1], "stock": asked["stock"][::-1]}


def check(number, asked, plan):
    """What is wrong with a plan, and whether the solver decided it."""
    wrong = list(faults(asked, plan))
    flow = Flow(asked)
    cost, bound = flow.cost(plan["cost"]), flow.cost(plan["lower_bound"])
    least, solver_bound = flow.least_cost(cost)
    if least is None:
        if cost < solver_bound:
            wrong.append(f"the solver knows that nothing costs less than {solver_bound}, and this costs {cost}")
        return [f"job {number}: {fault}" for fault in wrong], False
    if plan["optimal"] and cost != least:
        wrong.append(f"it is said to be optimal at {cost}, and the solver found {least}")
    if bound > least or cost < least:
        wrong.append(f"the solver found {least}, outside of {bound} to {cost}")
    return [f"job {number}: {fault}" for fault in wrong], True


def main():
    """Runs the check; the exit code says whether all held."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--jobs", type=int, default=500)
    options.add_argument("--seed", type=int, default=1)
    options = options.parse_args()
    started = time.monotonic()
    service = Service()
    jobs = {n: job(n) for n in range(options.seed, options.seed + options.jobs)}
    plans, failures = {}, []
    for n, asked in jobs.items():
        try:
            plans[n] = service.plan(asked)
            if n % 10 == 0 and service.plan(turned(asked)) != plans[n]:
                failures.append(f"job {n}: the order of its lists makes a difference")
        except RuntimeError as refused:
            failures.append(f"job {n}: {refused}")
    answered = time.monotonic() - started
    with ProcessPoolExecutor() as pool:
        checked = list(pool.map(check, plans, (jobs[n] for n in plans), plans.values()))
    for wrong, _ in checked:
        failures += wrong
    proven = sum(plan["optimal"] for plan in plans.values()) / max(len(plans), 1)
    left_open = sum(not decided for _, decided in checked)
    if proven < PROVEN:
        failures.append(f"only {proven:.1%} of the plans are proven")
    if left_open > OPEN * len(plans):
        failures.append(f"the solver left {left_open} jobs open")
    for failure in failures[:20]:
        print(failure)
    print(
        f"{len(plans)} cut plans in {answered:.1f} s, {proven:.1%} proven; against the solver, which left {left_open} open, in "
        f"{time.monotonic() - started - answered:.1f} s"
    )
    print(f"{len(failures)} failures")
    return 0 if plans and not failures else 1


if __name__ == "__main__":
    sys.exit(main())
