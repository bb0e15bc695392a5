#!/usr/bin/env python3
"""Draws how the time of a benchmark grows with the number of circuits, as SVG.

    cargo bench --bench panel_trees && tests/bench/growth.py > tests/bench/growth.svg

Reads what criterion left below target/criterion: every benchmark of the group "least copper", one line for each function.
Both axes are logarithmic; the thin lines are what growth in proportion would be.
"""

import json
import math
import os
import pathlib
import sys

GROUP = "least copper"
WIDTH, HEIGHT = 760, 460
LEFT, RIGHT, TOP, BOTTOM = 70, 24, 40, 56
COLOURS = ["#00629b", "#b04a00", "#3a7d34"]
AIM = (500, 2e6)


def measured(folder):
    """Nanoseconds by circuits, for each function of the group."""
    lines = {}
    for file in sorted(folder.glob("**/new/benchmark.json")):
        about = json.loads(file.read_text(encoding="utf-8"))
        if about["group_id"] != GROUP:
            continue
        estimates = json.loads((file.parent / "estimates.json").read_text(encoding="utf-8"))
        lines.setdefault(about["function_id"], {})[int(about["value_str"])] = estimates["median"]["point_estimate"]
    return lines


def time_text(nanoseconds):
    """A time as it is printed."""
    for unit, one in (("ms", 1e6), ("µs", 1e3)):
        if nanoseconds >= one:
            return f"{nanoseconds / one:g} {unit}"
    return f"{nanoseconds:g} ns"


def main():
    """Writes the picture."""
    lines = measured(pathlib.Path(os.environ.get("CARGO_TARGET_DIR", "target")) / "criterion")
    if not lines:
        sys.exit("there is nothing of the group 'least copper' below target/criterion: run the benchmark first")
    points = [point for line in lines.values() for point in line.items()] + [AIM]
    across = [math.log10(min(x for x, _ in points)), math.log10(max(x for x, _ in points))]
    up = [math.floor(math.log10(min(y for _, y in points))), math.ceil(math.log10(max(y for _, y in points)))]

    def at(circuits, nanoseconds):
        x = LEFT + (math.log10(circuits) - across[0]) / (across[1] - across[0]) * (WIDTH - LEFT - RIGHT)
        y = HEIGHT - BOTTOM - (math.log10(nanoseconds) - up[0]) / (up[1] - up[0]) * (HEIGHT - TOP - BOTTOM)
        return x, y

    svg = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" font-size="12">',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        f'<text x="{LEFT}" y="20" font-size="14">Least copper of a panel tree: time by number of circuits</text>',
    ]
    for power in range(up[0], up[1] + 1):
        y = at(10, 10**power)[1]
        svg.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#dddddd"/>')
        svg.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{time_text(10**power)}</text>')
    for circuits in sorted({x for line in lines.values() for x in line}):
        x = at(circuits, 10 ** up[0])[0]
        svg.append(f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{HEIGHT - BOTTOM}" stroke="#eeeeee"/>')
        svg.append(f'<text x="{x:.1f}" y="{HEIGHT - BOTTOM + 18}" text-anchor="middle">{circuits}</text>')
    svg.append(f'<text x="{(LEFT + WIDTH) / 2:.0f}" y="{HEIGHT - 14}" text-anchor="middle">circuits</text>')
    for n, (name, line) in enumerate(sorted(lines.items())):
        colour = COLOURS[n % len(COLOURS)]
        first, last = min(line), max(line)
        (x1, y1), (x2, y2) = at(first, line[first]), at(last, line[first] * last / first)
        svg.append(f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="0.6" stroke-dasharray="2 3"/>')
        way = " ".join(f"{x:.1f},{y:.1f}" for x, y in (at(*point) for point in sorted(line.items())))
        svg.append(f'<polyline points="{way}" fill="none" stroke="{colour}" stroke-width="2"/>')
        for x, y in (at(*point) for point in sorted(line.items())):
            svg.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{colour}"/>')
        svg.append(f'<text x="{LEFT + 12}" y="{TOP + 18 + 18 * n}" fill="{colour}">{name}</text>')
    x, y = at(*AIM)
    svg.append(f'<path d="M{x - 5:.1f} {y:.1f}h10M{x:.1f} {y - 5:.1f}v10" stroke="#000000"/>')
    svg.append(f'<text x="{x - 8:.1f}" y="{y - 8:.1f}" text-anchor="end">aim: 500 in 2 ms</text>')
    svg.append("</svg>")
    print("\n".join(svg))


if __name__ == "__main__":
    main()
