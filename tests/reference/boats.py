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


def boat_by_hull_form(seed, number, devices, batteries, forms):
    """One boat spec of which only form, length and beam are known; `forms` are the rows of /v1/layouts."""
    rng = random.Random(f"{seed}/{number}/hull form")
    form = forms[number % len(forms)]
    hull_m = rng.uniform(*(metres(form["hull_length"][end]) for end in ("min", "max")))
    share = rng.uniform(form["beam_share"]["min"], form["beam_share"]["max"])
    beam_m = min(max(hull_m * share, metres(form["beam"]["min"])), metres(form["beam"]["max"]))
    stations = form["stations"]
    banks = _banks(rng, stations, devices, batteries)
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


def boat(seed, number, devices, batteries):
    """One boat spec. `devices` are catalogue items of kind `device`; the same arguments give the same boat."""
    rng = random.Random(f"{seed}/{number}")
    hull_m = rng.uniform(4.5, 11.0)
    beam_m = hull_m * rng.uniform(0.28, 0.42)
    stations = ["battery_bay"] + ["helm"] + rng.sample(PLACES[1:], rng.randint(2, 9))
    if rng.random() < 0.5:
        stations.append("second_bay")
    banks = _banks(rng, stations, devices, batteries)
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
    # Some of what is wired is to lie in jacketed cable, by dice of its own: the rest of the boat is as it was.
    jackets = random.Random(f"{seed}/{number}/jackets")
    for entry in spec["equipment"]:
        if jackets.random() < 0.3:
            entry["wiring"] = jackets.choice(["jacketed_cable", "jacketed_cable", "single_conductors"])
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


def _banks(rng, stations, devices, batteries):
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
        if batteries and rng.random() < 0.4:
            # Batteries that the job supplies come with jumpers, whose copper counts too.
            one = rng.choice([b for b in batteries if b["attributes"]["nominal_voltage_v"] == 12])
            bank["batteries"] = [{"sku": one["sku"], "quantity": volts // 12 * rng.choice([1, 1, 2, 3])}]
            bank.pop("capacity_ah", None)
            bank.pop("cold_cranking_a", None)
        if rng.random() < 0.5:
            # Without a switch, or with one at some other place: its cable counts in every drop behind it.
            bank["switch"] = rng.choice([{"provision": "none"}, {"station": rng.choice(stations)}])
        banks.append(bank)
    return banks


def _panels(rng, stations, banks):
    """Panels and buses of all banks: panels fed by the bank and by each other, buses that follow them and some that do not."""
    panels, buses = [], []
    for bank in banks:
        volts = bank["nominal_voltage_v"]
        # Now and then one bus near the battery that the others lead to.
        main_bus = None
        if volts == 12 and rng.random() < 0.25:
            main_bus = {"id": "bus_12_main", "station": bank["station"]}
        of_bank = []
        for n in range(rng.randint(1, 5) if volts == 12 else rng.randint(1, 2)):
            panel = {
                "id": f"panel_{volts}_{n}",
                "station": "helm" if n == 0 and volts == 12 else rng.choice(stations),
                "voltage_rating_v": PANEL_RATING_V[volts],
            }
            feeding = rng.choice(of_bank) if of_bank and rng.random() < 0.5 else None
            panel.update({"fed_from": feeding["id"]} if feeding else {"bank": bank["id"]})
            if rng.random() < 0.7 or volts > 24:
                panel["protection"] = "breaker" if volts > 24 else rng.choice(["breaker", "blade_fuse"])
            named = [bus for bus in buses if bus["id"].startswith(f"bus_{volts}_")]
            if named and rng.random() < 0.2:
                # The bus of another panel of the bank: of the one that feeds it, perhaps.
                panel["negative_bus"] = rng.choice(named)["id"]
            elif main_bus or rng.random() < 0.5:
                bus = {"id": f"bus_{volts}_{n}", "station": rng.choice(stations)}
                if main_bus and not feeding:
                    bus["leads_to"] = main_bus["id"]
                elif named and rng.random() < 0.15:
                    bus["leads_to"] = rng.choice(named)["id"]
                elif feeding and rng.random() < 0.15:
                    bus["leads_to"] = bank["id"]
                buses.append(bus)
                panel["negative_bus"] = bus["id"]
            of_bank.append(panel)
        if main_bus and any(bus.get("leads_to") == main_bus["id"] for bus in buses):
            buses.append(main_bus)
        panels += of_bank
    for bus in buses:
        # Where panels of several sources share a bus, the spec must say where it leads.
        feeding = {panel.get("fed_from") for panel in panels if panel.get("negative_bus") == bus["id"]}
        if "leads_to" not in bus and len(feeding) > 1 and None not in feeding:
            bus["leads_to"] = next(bank["id"] for bank in banks if bus["id"].startswith(f"bus_{bank['nominal_voltage_v']}_"))
    return panels, buses


def _draws(device, volts):
    """Amperes of the heaviest lead at a nominal voltage."""
    attributes = device["attributes"]
    return max(lead.get("current_a") or 0.0 for lead in attributes["leads"]) * attributes["rated_voltage_v"] / volts


def _equipment(rng, stations, banks, panels, devices):
    """From 3 to 30 pieces, on panels of a voltage that each takes; no panel is loaded beyond what boats have."""
    volts_of = {bank["id"]: bank["nominal_voltage_v"] for bank in banks}
    bank_of = {panel["id"]: panel.get("bank") for panel in panels}
    feeding = {panel["id"]: panel.get("fed_from") for panel in panels}
    room_a = {panel["id"]: rng.choice([15, 30]) if panel.get("fed_from") else rng.choice([30, 60, 90]) for panel in panels}
    wanted = rng.randint(3, 30)
    equipment = []
    for _ in range(400):
        if wanted == 0:
            break
        panel = rng.choice(panels)
        # What a panel feeds comes through all that feed it.
        way = [panel["id"]]
        while feeding[way[-1]]:
            way.append(feeding[way[-1]])
        volts = volts_of[bank_of[way[-1]]]
        fitting = [d for d in devices if volts in d["attributes"]["nominal_voltages_v"]]
        if not fitting:
            continue
        device = rng.choice(fitting)
        quantity = min(wanted, rng.choice([1, 1, 1, 1, 2, 3]))
        amperes = quantity * _draws(device, volts)
        if amperes > min(room_a[one] for one in way) or (amperes > 20 and rng.random() < 0.7):
            continue
        for one in way:
            room_a[one] -= amperes
        entry = {"sku": device["sku"], "quantity": quantity, "station": rng.choice(stations), "panel": panel["id"]}
        # An identifier of its own, so that a circuit of the answer can be traced to its entry.
        entry["id"] = f"e{len(equipment):02d}"
        equipment.append(entry)
        wanted -= quantity
    return equipment
