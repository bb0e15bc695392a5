"""Resistance of conductors by the published table, and the areas that the shop's wire has."""

import csv
import pathlib

HERE = pathlib.Path(__file__).parent
FOOT_M = 0.3048
CMIL_PER_MM2 = 1973.525241  # 1 mm2 over pi/4 of a thousandth of an inch squared
ALPHA_75C = 0.00323  # copper, referred to 75 C: note 2 of the table

# In the order that a shop's shelf has them; two places on is two sizes smaller.
AWG_RISING = ["18", "16", "14", "12", "10", "8", "6", "4", "2", "1", "1/0", "2/0", "3/0", "4/0"]
METRIC_RISING = [0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0, 150.0]


def _rows(name):
    with open(HERE / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


class Copper:
    """What a shop's conductors weigh in a circuit, by the standard that its wire is sold to: `awg`, `sae` or `metric`."""

    def __init__(self, standard):
        self.standard = standard
        table = {row["awg"]: row for row in _rows("conductor_resistance.csv")}
        self.awg_cmil = {awg: float(row["area_cmil"]) for awg, row in table.items()}
        self.sae_cmil = {row["awg"]: float(row["area_cmil"]) for row in _rows("sae_areas.csv")}
        # Ohm per 1000 ft at 20 C, by the table's own rule for other temperatures.
        self.ohm_20c = {
            awg: float(row["ohm_per_kft_75c"]) * (1 + ALPHA_75C * (20 - 75)) for awg, row in table.items()
        }

    def area_cmil(self, gauge, makers_own=False):
        """Copper area of a size written `12 AWG` or `4 mm2`, circular mils; a maker's own lead has its gauge in full."""
        if gauge.endswith(" mm2"):
            return float(gauge[:-4]) * CMIL_PER_MM2
        areas = self.sae_cmil if self.standard == "sae" and not makers_own else self.awg_cmil
        return areas[gauge.removesuffix(" AWG")]

    def ohms(self, gauge, metres, makers_own=False):
        """Resistance at 20 C of a length of conductor: the table's, scaled to the area of the wire that is sold."""
        area = self.area_cmil(gauge, makers_own)
        # A size that the table lacks takes the row of the nearest area, scaled alike.
        row = min(self.awg_cmil, key=lambda awg: abs(self.awg_cmil[awg] - area))
        if gauge.endswith(" AWG") and gauge.removesuffix(" AWG") in self.awg_cmil:
            row = gauge.removesuffix(" AWG")
        return self.ohm_20c[row] / 1000 / FOOT_M * metres * self.awg_cmil[row] / area

    def over_constant(self, ohm_cmil_per_ft):
        """What a drop by the table may be over one by a copper constant: the least and the most of any size."""
        constants = [self.ohm_20c[awg] * self.awg_cmil[awg] / 1000 for awg in self.awg_cmil]
        return 0.9995 * min(constants) / ohm_cmil_per_ft, 1.0005 * max(constants) / ohm_cmil_per_ft

    @staticmethod
    def two_sizes_smaller(gauge):
        """The size two places down the shelf, or None where there is none."""
        if gauge.endswith(" mm2"):
            shelf, size, unit = METRIC_RISING, float(gauge[:-4]), "mm2"
        else:
            shelf, size, unit = AWG_RISING, gauge.removesuffix(" AWG"), "AWG"
        # 3 AWG is seldom kept; two sizes down from it is 6 AWG.
        if size == "3":
            return "6 AWG"
        place = shelf.index(size) - 2
        if place < 0:
            return None
        return f"{shelf[place]:g} mm2" if unit == "mm2" else f"{shelf[place]} AWG"
