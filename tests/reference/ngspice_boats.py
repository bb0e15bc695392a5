#!/usr/bin/env python3
"""Checks take-offs of generated boats against an independent solver.

Boats are generated from the devices of a running service's own catalogue (its address is in RIGBILL_URL, an owner key in
RIGBILL_KEY; the shop's settings are changed there) and sent to /v1/take-offs; of one in four only form, length and beam of the hull are stated,
and its runs are those of /v1/layouts. Each device's circuit is then written as an ngspice netlist: its conductors by
the published resistance of copper at 20 °C, over their length on the boat, with the maker's leads on their ends, at the
current that the catalogue states, with every feeder and return on the way carrying its own current. What is checked,
for every circuit and feeder:

  limit     the voltage at the device, or at the panel, is no less than its limit allows
  drop      the drop that the take-off states is ngspice's, but for the shop's copper constant in the published one's place
  route     the route is the shortest chain of runs (found here again), and its length is what the runs come to
  length    installed and cut lengths are the route, the rises, the allowances, the loops and the waste
  current   each conductor carries what the catalogue's lead draws at the bank's voltage
  feeder    each feeder's current is what the load analysis of all that it feeds gives, sub-panels included, and each
            return's what comes back through its bus; a feeder has the returns that its buses ask for
  before    what is counted for jumpers, links and the cables to switch and buses is no less than what they drop
  missing   every device has its circuit, or a gap that says why it has none

Then one conductor of each of twenty boats is made two sizes smaller in the netlist: every one of these faults must be found.
"""

import argparse
import http.client
import json
import os
import sys
import time
import urllib.parse

from boats import boat, boat_by_hull_form, metres
from copper import METRIC_RISING, Copper
from netlist import Netlist
from take_off_model import Boat

BOATS_A_RUN = 25
FAULTS = 20

# Every third boat is taken off by a shop of each kind: gauges of full area, the smaller ones that SAE allows, and metric.
GAUGES = ["16", "14", "12", "10", "8", "6", "4", "2", "1/0", "2/0", "4/0"]
SHOPS = [
    {"area_standard": "awg", "other_sizes": [], "length_unit": "ft", "stocked_sizes": [f"{gauge} AWG" for gauge in GAUGES]},
    {"area_standard": "sae", "other_sizes": [], "length_unit": "in", "stocked_sizes": [f"{gauge} AWG" for gauge in GAUGES]},
    {
        "area_standard": "metric",
        "other_sizes": [],
        "length_unit": "m",
        "stocked_sizes": [f"{area:g} mm2" for area in METRIC_RISING if 1.5 <= area <= 120],
    },
]


class Service:
    """A connection that is kept open: one request after another."""

    def __init__(self, url):
        address = urllib.parse.urlsplit(url)
        self.connection = http.client.HTTPConnection(address.hostname, address.port, timeout=60)
        self.version = None

    def send(self, method, path, body=None, seen=None):
        """Status and JSON body of a request; `seen` is the version that a change is based on."""
        headers = {"Authorization": f"Bearer {os.environ['RIGBILL_KEY']}"}
        if body is not None:
            headers["Content-Type"] = "application/json"
        if seen:
            headers["If-Match"] = seen
        self.connection.request(method, path, None if body is None else json.dumps(body), headers)
        answer = self.connection.getresponse()
        self.version = answer.headers.get("ETag")
        return answer.status, json.loads(answer.read())

    def get(self, path):
        """JSON body of a resource."""
        status, body = self.send("GET", path)
        if status != 200:
            raise SystemExit(f"GET {path} answered {status}: {body}")
        return body

    def change_settings(self, changes):
        """Changes some of the shop's settings; answers all of them."""
        settings = {**self.get("/v1/settings"), **changes}
        status, body = self.send("PUT", "/v1/settings", settings, seen=self.version)
        if status != 200:
            raise SystemExit(f"PUT /v1/settings answered {status}: {body}")
        return settings

    def items(self, kind):
        """All items of a kind in the catalogue that are still sold, page by page."""
        query = {"kind": kind, "retired": "false", "limit": "200"}
        items = []
        while True:
            page = self.get("/v1/items?" + urllib.parse.urlencode(query))
            items += [row["item"] for row in page["rows"]]
            if "next" not in page:
                break
            query["cursor"] = page["next"]
        return sorted(items, key=lambda item: item["sku"])

    def written_out(self, spec):
        """A spec with the stations and runs that the layout of its hull form gives, as if someone had sent them."""
        # In millimetres, so that what is rounded in the answer does not add up along a route.
        sizes = {size: 1000 * metres(spec["boat"][size]) for size in ("hull_length", "beam")}
        query = urllib.parse.urlencode({**sizes, "unit": "mm", "propulsion": spec["boat"]["propulsion"]})
        layout = self.get(f"/v1/layouts/{spec['boat']['hull_form']}?{query}")
        boat = {**spec["boat"], "stations": [{"id": station["id"]} for station in layout["stations"]]}
        boat["runs"] = [{**run, "length_source": "estimated"} for run in layout["runs"]]
        return {**spec, "boat": boat}


def main():
    """Runs the check; the exit code says whether all held."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--boats", type=int, default=200, help="how many boats (default: 200)")
    options.add_argument("--seed", type=int, default=1, help="seed of the boats (default: 1)")
    options.add_argument("--first", type=int, default=0, help="number of the first boat, to look at one again")
    options.add_argument("--show", action="store_true", help="print each boat's spec")
    options = options.parse_args()

    service = Service(os.environ["RIGBILL_URL"])
    # What has no leads of its own, such as an antenna, is no load.
    devices = [device for device in service.items("device") if not device["attributes"].get("unwired")]
    batteries = service.items("battery")
    print(f"{len(devices)} devices in the catalogue; seed {options.seed}")
    tally = Tally()
    started = time.monotonic()
    numbers = range(options.first, options.first + options.boats)
    for n, shop in enumerate(SHOPS):
        settings = service.change_settings(shop)
        check(service, settings, (devices, batteries), numbers[n :: len(SHOPS)], options, tally)
    tally.close(time.monotonic() - started)
    return 0 if tally.sound(options.boats) else 1


def check(service, settings, kinds, numbers, options, tally):
    """Checks the boats of one shop."""
    devices, batteries = kinds
    copper = Copper(settings["area_standard"])
    items = {device["sku"]: device for device in devices}
    forms = service.get("/v1/layouts")["rows"]
    batch = []
    for number in numbers:
        # One boat in four is known by its hull form alone.
        formed = number % 4 == 3
        seeded = (options.seed, number, devices, batteries)
        spec = boat_by_hull_form(*seeded, forms) if formed else boat(*seeded)
        if options.show:
            print(json.dumps(spec, indent=1))
        status, answer = service.send("POST", "/v1/take-offs", spec)
        if status != 200:
            tally.fail(number, "refused", f"the spec was refused with {status}: {json.dumps(answer)[:1500]}")
            continue
        known = service.written_out(spec) if formed else spec
        batch.append(Boat(number, known, answer, items, settings, copper))
        if len(batch) == BOATS_A_RUN:
            solve(batch, tally)
            batch = []
    if batch:
        solve(batch, tally)


class Tally:
    """What was found."""

    def __init__(self):
        self.boats = self.circuits = self.feeders = self.gaps = self.cables = 0
        self.faults_put = self.faults_found = 0
        self.failures = []
        self.tightest = (2.0, "")
        self.ratios = []

    def fail(self, number, what, text):
        """Notes a failure."""
        self.failures.append(f"boat {number}: {what}: {text}")

    def close(self, seconds):
        """Prints what was found."""
        for failure in self.failures[:40]:
            print(failure)
        if len(self.failures) > 40:
            print(f"… and {len(self.failures) - 40} more")
        print(
            f"{self.boats} boats, {self.circuits} circuits, {self.cables} of them in a jacket, {self.feeders} feeders, "
            f"{self.gaps} gaps in {seconds:.1f} s; "
            f"nearest to its limit: {self.tightest[1]}, {100 * self.tightest[0]:.2f} % of the drop that it may have"
        )
        if self.ratios:
            print(f"ngspice's drop over the stated one, where that is no mere rounding: {min(self.ratios):.4f} to {max(self.ratios):.4f}")
        print(f"faults put in on purpose: {self.faults_put}, found: {self.faults_found}")
        print(f"{self.circuits + self.feeders - len(self.failures)} passed, {len(self.failures)} failed")

    def sound(self, boats):
        """Whether all held, and the check itself looked at something."""
        if self.faults_found < self.faults_put or self.faults_put < min(FAULTS, boats // 4):
            print("the faults put in on purpose were not all found, or too few could be put in: this check cannot be trusted")
            return False
        # Generated boats are ordinary ones: few of their circuits may be beyond every conductor.
        if self.gaps > 0.05 * (self.circuits + self.gaps):
            print("too many gaps: more than one circuit in twenty has no conductor")
            return False
        if boats >= 25 and self.cables < boats // 5:
            print("too few circuits lie in a jacket for this check to say anything of them")
            return False
        return not self.failures and self.boats == boats and self.circuits > 3 * boats


def solve(batch, tally):
    """Writes the boats into one netlist, solves it, and compares."""
    netlist = Netlist()
    asked = []
    for one in batch:
        tally.boats += 1
        tally.gaps += one.gaps()
        tally.cables += len(one.cables)
        for what, text in one.accounts():
            tally.fail(one.number, what, text)
        asked += [(one, question) for question in one.questions(netlist)]
        if tally.faults_put < FAULTS:
            fault = one.fault(netlist)
            if fault:
                tally.faults_put += 1
                asked.append((one, fault))
    volts = netlist.solve()
    for one, question in asked:
        compare(one, question, volts[question.place], tally)


def compare(one, question, volts, tally):
    """Compares a measured voltage with what the limit allows and with the drop that was stated."""
    drop = question.nominal_v - volts
    allowed = question.nominal_v * question.limit_percent / 100
    # The bank's cables are counted before they have their sizes, which may grow: what is stated goes by what is counted.
    counted = drop + question.more_v
    if question.put_in:
        if counted > allowed:
            tally.faults_found += 1
        else:
            tally.fail(one.number, "fault not found", f"{question.name}: {volts:.4f} V is within the limit")
        return
    if question.kind == "circuit":
        tally.circuits += question.first
    elif question.kind == "panel":
        tally.feeders += 1
    if drop > allowed * (1 + 1e-6):
        tally.fail(
            one.number,
            "limit",
            f"{question.name}: {volts:.4f} V at the {question.kind}, {drop:.4f} V below {question.nominal_v} V, "
            f"where {question.limit_percent} % allows {allowed:.4f} V",
        )
    if allowed > 0 and abs(1 - drop / allowed) < abs(1 - tally.tightest[0]):
        tally.tightest = (drop / allowed, f"boat {one.number} {question.name}")
    if question.stated_percent is None:
        return
    stated = question.stated_percent / 100 * question.nominal_v
    # Percentages are stated to a thousandth or so.
    slack = 0.0011 / 100 * question.nominal_v
    if stated > 300 * slack:
        tally.ratios.append(counted / stated)
    least, most = one.copper.over_constant(one.settings["copper_ohm_cmil_per_ft"])
    if not least * stated - slack <= counted <= most * stated + slack:
        tally.fail(
            one.number,
            "drop",
            f"{question.name}: ngspice drops {counted:.4f} V with what is counted before it, the take-off states {question.stated_percent} % = {stated:.4f} V",
        )


if __name__ == "__main__":
    sys.exit(main())
