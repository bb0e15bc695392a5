#!/usr/bin/env python3
"""Checks routes against a graph library.

The tests of the calculation write graphs to target/routes.jsonl: the layouts of all forms of hull at two sizes, and
generated ones of stated runs, of a layout's, and of both; and every route that was found in them. Here networkx finds the
shortest chain of runs between all stations. Lengths are whole nanometres, so they must be equal to the last one; of
chains of equal length the one of fewest runs must have been found.

Where stated runs and a layout's meet, the rule is: between stations that stated runs join, the shortest chain of those;
elsewhere the shortest chain of all, laid along stated runs between the first and the last station that those join.
"""

import argparse
import json
import os
import pathlib
import sys
import time

import networkx

# A run adds one to a length that is multiplied by so many: no chain has as many runs.
SCALE = 1 << 20


def graph_of(stations, runs):
    """The graph of some runs; of several between two stations the shortest."""
    graph = networkx.Graph()
    graph.add_nodes_from(range(stations))
    for a, b, nanometres, _ in runs:
        weight = nanometres * SCALE + 1
        if not graph.has_edge(a, b) or weight < graph[a][b]["weight"]:
            graph.add_edge(a, b, weight=weight)
    return graph


def chain(case, route):
    """Length and number of runs of a route as it is written; None when its runs do not join its stations."""
    start, end, nanometres, runs, stations = route
    joins = [{case["runs"][run][0], case["runs"][run][1]} for run in runs]
    if stations[0] != start or stations[-1] != end or joins != [{a, b} for a, b in zip(stations, stations[1:])]:
        return None
    if sum(case["runs"][run][2] for run in runs) != nanometres:
        return None
    return nanometres, len(runs)


def split(weight):
    """Length and number of runs of a weight."""
    return divmod(weight, SCALE)


def laid_along(way, group, all_lengths, stated_lengths):
    """Length and number of runs of a shortest way with its stretches laid along stated runs."""
    total, at = 0, 0
    while at < len(way):
        last = max(i for i, station in enumerate(way) if group[station] == group[way[at]])
        if last > at:
            total += stated_lengths[way[at]][way[last]]
        if last + 1 < len(way):
            total += all_lengths[way[last]][way[last + 1]]
        at = last + 1
    return split(total)


def check(case):
    """What is wrong with the routes of a graph, and how many there are."""
    stations = case["stations"]
    both = graph_of(stations, case["runs"])
    stated = graph_of(stations, [run for run in case["runs"] if run[3]])
    mixed = any(not run[3] for run in case["runs"])
    all_lengths = dict(networkx.all_pairs_dijkstra_path_length(both))
    stated_lengths = dict(networkx.all_pairs_dijkstra_path_length(stated))
    group = {station: n for n, part in enumerate(networkx.connected_components(stated)) for station in part}
    wrong, found = [], {(route[0], route[1]): route for route in case["routes"]}
    for start in range(stations):
        for end in range(stations):
            reached, route = end in all_lengths[start], found.get((start, end))
            if reached != (route is not None):
                wrong.append(f"{case['name']}: from {start} to {end}: {'not found' if reached else 'there is no way'}")
            if not reached or route is None:
                continue
            ours = chain(case, route)
            if not mixed:
                due = [split(all_lengths[start][end])]
            elif group[start] == group[end]:
                due = [split(stated_lengths[start][end])]
            else:
                # Of several shortest ways any may have been taken.
                ways = networkx.all_shortest_paths(both, start, end, weight="weight")
                due = [laid_along(way, group, all_lengths, stated_lengths) for way in ways]
            if ours not in due:
                wrong.append(f"{case['name']}: from {start} to {end} is {ours}, not {due} (nanometres, runs)")
    return wrong, len(found)


def main():
    """Runs the check; the exit code says whether all held."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", "target"))
    options.add_argument("--graphs", type=pathlib.Path, default=target / "routes.jsonl")
    options = options.parse_args()
    started = time.monotonic()
    cases = [json.loads(line) for line in options.graphs.read_text(encoding="utf-8").splitlines()]
    failures, routes = [], 0
    for case in cases:
        wrong, found = check(case)
        failures += wrong
        routes += found
    # A route made one nanometre longer must be told.
    spoilt = next(case for case in cases if any(route[3] for route in case["routes"]))
    longer = next(route for route in spoilt["routes"] if route[3])
    longer[2] += 1
    if not check(spoilt)[0]:
        failures.append("a route that was made longer was not told")
    for failure in failures[:20]:
        print(failure)
    print(f"{routes} routes in {len(cases)} graphs against networkx in {time.monotonic() - started:.1f} s")
    print(f"{len(failures)} failed")
    return 0 if routes and not failures else 1


if __name__ == "__main__":
    sys.exit(main())
