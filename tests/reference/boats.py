"""Generated boats: specs that a shop might send, by seed, from the devices of its own catalogue."""

import random

HULLS = [
    "center_console",
    "bay_boat",
    "skiff",
    "dual_console",
    "walkaround",
    "express",
    "pontoon",
    "aluminum_utility",
    "sailing_monohull",
    "catamaran",
]
PLACES = [
    "helm",
    "aft_bilge",
    "bow",
    "transom",
    "hardtop",
    "leaning_post",
    "port_locker",
    "starboard_locker",
    "cabin",
    "galley",
    "engine_room",
    "live_well",
]
METRES = {"in": 0.0254, "ft": 0.3048, "mm": 0.001, "cm": 0.01, "m": 1.0}

# Panels for the charging voltage of each bank (14.4 V for each nominal 12 V): common practice.
PANEL_RATING_V = {12: 32, 24: 48, 36: 80, 48: 80}


def length(rng, metres):
    """A length of about so many metres, written in some unit as a tape would be read."""
    unit, places = rng.choice([("in", 2), ("ft", 2), ("mm", 0), ("cm", 1), ("m", 3)])
    value = round(metres / METRES[unit], places)
    return {"value": value, "unit": unit}


def metres(value):
    """A length of a spec or an answer, metres."""
    return value["value"] * METRES[value["unit"]]


def boat_by_hull_form(seed, number, devices, forms):
    """One boat spec of which only form, length and beam are known; `forms` are the rows of /v1/layouts."""
    rng = random.Random(f"{seed}/{number}/hull form")
    form = forms[number % len(forms)]
    hull_m = rng.uniform(*(metres(form["hull_length"][end]) for end in ("min", "max")))
    share = rng.uniform(form["beam_share"]["min"], form["beam_share"]["max"])
    beam_m = min(max(hull_m * share, metres(form["beam"]["min"])), metres(form["beam"]["max"]))
    stations = form["stations"]
    banks = _banks(rng, stations, devices)
    panels, buses = _panels(rng, stations, banks)
    return {
        "boat": {
            "name": f"By hull form {seed}/{number}",
            "hull_form": form["hull_form"],
            "job_type": rng.choice(["bare_hull", "first_rig", "re_rig"]),
            "hull_length": {"value": round(hull_m, 3), "unit": "m"},
            "beam": {"value": round(beam_m, 3), "unit": "m"},
            "propulsion": rng.choice(["outboard", "petrol_inboard", "diesel_inboard", "electric", "none"]),
        },
        "power": {"banks": banks, "panels": panels, "buses": buses},
        "equipment": _equipment(rng, stations, banks, panels, devices),
    }


def boat(seed, number, devices):
    """One boat spec. `devices` are catalogue items of kind `device`; the same arguments give the same boat."""
    rng = random.Random(f"{seed}/{number}")
    hull_m = rng.uniform(4.5, 11.0)
    beam_m = hull_m * rng.uniform(0.28, 0.42)
    stations = ["battery_bay"] + ["helm"] + rng.sample(PLACES[1:], rng.randint(2, 9))
    if rng.random() < 0.5:
        stations.append("second_bay")
    banks = _banks(rng, stations, devices)
    panels, buses = _panels(rng, stations, banks)
    spec = {
        "boat": {
            "name": f"Generated {seed}/{number}",
            "hull_form": rng.choice(HULLS),
            "job_type": rng.choice(["bare_hull", "first_rig", "re_rig"]),
            "hull_length": length(rng, hull_m),
            "beam": length(rng, beam_m),
            "propulsion": rng.choice(["outboard", "petrol_inboard", "diesel_inboard", "electric", "none"]),
            "negative_colour": rng.choice(["black", "yellow"]),
            "stations": [_station(rng, name) for name in stations],
            "runs": _runs(rng, stations, hull_m),
        },
        "power": {"banks": banks, "panels": panels, "buses": buses},
        "equipment": _equipment(rng, stations, banks, panels, devices),
    }
    for part in (spec["boat"]["stations"], spec["boat"]["runs"], banks, panels, buses, spec["equipment"]):
        rng.shuffle(part)
    return spec


def _station(rng, name):
    station = {"id": name}
    # Where vapour may be, much of the catalogue may not: what is wired there has a gap, and is wired all the same.
    if rng.random() < 0.8:
        station["petrol_vapour"] = rng.choice(["yes", "no", "no", "no", "unknown"])
    if rng.random() < 0.5:
        station["rise"] = length(rng, rng.uniform(0.1, 1.5))
    return station


def _runs(rng, stations, hull_m):
    """A tree that reaches every station, and some runs across it, so that the shortest route is worth finding."""
    pairs = []
    for i, name in enumerate(stations[1:], start=1):
        pairs.append((rng.choice(stations[:i]), name))
    for _ in range(rng.randint(0, len(stations))):
        pairs.append(tuple(rng.sample(stations, 2)))
    runs = []
    for a, b in pairs:
        run = {"from": a, "to": b, "length": length(rng, hull_m * rng.uniform(0.05, 0.45))}
        access = rng.choice([None, "open", "tube", "gunwale", "blind"])
        if access:
            run["access"] = access
        if access == "tube":
            run["inside_diameter"] = rng.choice([{"value": 2, "unit": "in"}, {"value": 50, "unit": "mm"}])
        if rng.random() < 0.15:
            run["engine_space"] = True
        if rng.random() < 0.15:
            run["length_source"] = "estimated"
        runs.append(run)
    return runs


def _banks(rng, stations, devices):
    wired = {volts for device in devices for volts in device["attributes"]["nominal_voltages_v"]}
    voltages = [12] + [v for v in (24, 36) if v in wired and rng.random() < 0.45]
    places = [s for s in stations if s.endswith("bay")]
    banks = []
    for volts in voltages:
        bank = {
            "id": f"bank_{volts}",
            "station": rng.choice(places if rng.random() < 0.8 else stations),
            "nominal_voltage_v": volts,
        }
        if rng.random() < 0.7:
            bank["capacity_ah"] = rng.choice([50, 100, 200, 400])
        if rng.random() < 0.6:
            bank["cold_cranking_a"] = rng.choice([500, 650, 800, 1100, 1600])
        banks.append(bank)
    return banks


def _panels(rng, stations, banks):
    panels, buses = [], []
    for bank in banks:
        for n in range(rng.randint(1, 3) if bank["nominal_voltage_v"] == 12 else 1):
            volts = bank["nominal_voltage_v"]
            panel = {
                "id": f"panel_{volts}_{n}",
                "station": "helm" if n == 0 and volts == 12 else rng.choice(stations),
                "bank": bank["id"],
                "voltage_rating_v": PANEL_RATING_V[volts],
            }
            if rng.random() < 0.7 or volts > 24:
                panel["protection"] = "breaker" if volts > 24 else rng.choice(["breaker", "blade_fuse"])
            if buses and buses[-1]["id"].startswith(f"bus_{volts}_") and rng.random() < 0.3:
                # Two panels of one bank, one bus.
                panel["negative_bus"] = buses[-1]["id"]
            elif rng.random() < 0.4:
                bus = {"id": f"bus_{volts}_{n}", "station": rng.choice(stations)}
                buses.append(bus)
                panel["negative_bus"] = bus["id"]
            panels.append(panel)
    return panels, buses


def _draws(device, volts):
    """Amperes of the heaviest lead at a nominal voltage."""
    attributes = device["attributes"]
    return max(lead.get("current_a") or 0.0 for lead in attributes["leads"]) * attributes["rated_voltage_v"] / volts


def _equipment(rng, stations, banks, panels, devices):
    """From 3 to 30 pieces, on panels of a voltage that each takes; no panel is loaded beyond what boats have."""
    volts_of = {bank["id"]: bank["nominal_voltage_v"] for bank in banks}
    room_a = {panel["id"]: rng.choice([30, 60, 90]) for panel in panels}
    wanted = rng.randint(3, 30)
    equipment = []
    for _ in range(400):
        if wanted == 0:
            break
        panel = rng.choice(panels)
        volts = volts_of[panel["bank"]]
        fitting = [d for d in devices if volts in d["attributes"]["nominal_voltages_v"]]
        if not fitting:
            continue
        device = rng.choice(fitting)
        quantity = min(wanted, rng.choice([1, 1, 1, 1, 2, 3]))
        amperes = quantity * _draws(device, volts)
        if amperes > room_a[panel["id"]] or (amperes > 20 and rng.random() < 0.7):
            continue
        room_a[panel["id"]] -= amperes
        entry = {"sku": device["sku"], "quantity": quantity, "station": rng.choice(stations), "panel": panel["id"]}
        # An identifier of its own, so that a circuit of the answer can be traced to its entry.
        entry["id"] = f"e{len(equipment):02d}"
        equipment.append(entry)
        wanted -= quantity
    return equipment
