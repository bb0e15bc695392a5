"""Netlists for ngspice, its operating point, and what it measured."""

import pathlib
import subprocess
import tempfile


class Netlist:
    """Resistors, current sources and voltage sources, with the voltages to be measured. Names are given in order."""

    def __init__(self):
        self.lines = []
        self.measured = 0
        self.nodes = 0

    def node(self):
        """A new node."""
        self.nodes += 1
        return f"n{self.nodes}"

    def _add(self, kind, a, b, value):
        self.lines.append(f"{kind}{len(self.lines)} {a} {b} {value:.12g}")

    def bank(self, volts):
        """A bank: its positive node; its negative is node 0."""
        positive = self.node()
        self._add("V", positive, "0", volts)
        return positive

    def resistor(self, a, b, ohms):
        """A length of conductor."""
        self._add("R", a, b, max(ohms, 1e-9))

    def draw(self, a, b, amperes):
        """A load that draws a current from `a` to `b`."""
        self._add("I", a, b, amperes)

    def measure(self, a, b):
        """Asks for the voltage between two nodes; answers its place in the results."""
        place = self.measured
        self.measured += 1
        self.lines.append(f"E{len(self.lines)} m{place} 0 {a} {b} 1")
        return place

    def solve(self):
        """The measured voltages, by ngspice's operating point."""
        with tempfile.TemporaryDirectory() as folder:
            folder = pathlib.Path(folder)
            saves = [f".save v(m{place})" for place in range(self.measured)]
            control = [".control", "set filetype=ascii", "op", "write out.raw", "quit", ".endc", ".end"]
            text = "\n".join(["* boats"] + self.lines + saves + control) + "\n"
            (folder / "boats.cir").write_text(text, encoding="ascii")
            run = subprocess.run(
                ["ngspice", "-b", "boats.cir"], cwd=folder, capture_output=True, text=True, timeout=600, check=False
            )
            out = folder / "out.raw"
            if not out.exists():
                raise RuntimeError(f"ngspice gave no result (exit {run.returncode}):\n{run.stdout}\n{run.stderr}"[:4000])
            return _voltages(out.read_text(encoding="ascii"), self.measured)


def _voltages(raw, count):
    """Reads ngspice's ASCII raw file: the values of v(m0) … in order."""
    head, _, values = raw.partition("Values:")
    names = [line.split()[1] for line in head.partition("\nVariables:")[2].strip().splitlines()]
    numbers = values.split()[1:]  # the first is the number of the point
    if len(numbers) != len(names):
        raise RuntimeError(f"ngspice wrote {len(numbers)} values for {len(names)} variables")
    found = {name.lower(): float(number) for name, number in zip(names, numbers)}
    return [found[f"v(m{place})"] for place in range(count)]
