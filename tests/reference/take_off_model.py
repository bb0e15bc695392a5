"""A take-off read back: what it must say of the boat, and its circuits as netlists."""

import dataclasses
import heapq

from boats import metres

# A fuse holder at the battery is mounted where its cable ends: no loop there, as at the battery itself.
PANEL_ENDS = {"panel", "sub_main", "panel_main", "bus", "bus_main", "bilge_switch"}
DEVICE_ENDS = {"pigtail", "device_stud"}
POSITIVES = {"switched_positive", "constant_positive"}
LIGHT = {"switched_positive", "constant_positive", "return", "bilge_switch_feed", "running_light_return"}
OF_CIRCUITS = LIGHT | {"feeder_positive", "feeder_return"}
POST_LINK_M = 7 * 0.0254
FOOT_M = 0.3048
# Cable from one battery to the next in the same bay (common practice).
BATTERY_TO_BATTERY_M = 2.5 * FOOT_M
BETWEEN_BATTERIES = {"series_jumper", "parallel_link", "negative_join"}
# Answers give lengths to a thousandth of their unit, a metre at most.
ROUNDING_M = 0.0011


@dataclasses.dataclass
class Question:
    """A voltage to be measured, and what it may be."""

    place: int
    kind: str
    name: str
    nominal_v: float
    limit_percent: float
    stated_percent: float | None = None
    put_in: bool = False
    first: bool = True
    # What the take-off counts for the bank's cables beyond what those on its cut list drop, volts.
    more_v: float = 0.0


class Boat:
    """One boat: its spec and its take-off."""

    def __init__(self, number, spec, take_off, items, settings, copper):
        self.number = number
        self.spec = spec
        self.take_off = take_off
        self.items = items
        self.settings = settings
        self.copper = copper
        self.conductors = {c["label"]: c for c in take_off["cut_list"]}
        self.cables = {c["label"]: c for c in take_off["cables"]}
        self.feeders = {f["panel"]: f for f in take_off["feeders"]}
        self.banks = {b["id"]: b for b in spec["power"]["banks"]}
        self.panels = {p["id"]: p for p in spec["power"]["panels"]}
        self.entries = {e["id"]: e for e in spec["equipment"]}
        self.rise = {s["id"]: metres(s["rise"]) if "rise" in s else 0.0 for s in spec["boat"]["stations"]}
        self.buses = {b["id"]: b for b in spec["power"]["buses"]}
        self.ways = {}
        self.banks = {b["bank"]: (n + 1, b) for n, b in enumerate(take_off["banks"])}
        self.aboard = {b["id"] for b in spec["power"]["banks"] if b.get("switch", {}).get("provision") == "aboard"}
        # What the take-off counts of the bank's cables before a conductor: ohms at that conductor's own current.
        self.before = {
            cable["conductor"]: copper.ohms(cable["gauge"], cable["counted_ft"] * FOOT_M)
            for bank in take_off["banks"]
            for cable in bank["counted_before"]
        }
        # Labels of the returns of buses: a feeder lists its own, from its bus towards the bank.
        self.return_of = {}
        for panel, feeder in self.feeders.items():
            self.return_of.update(zip(self.own_buses(panel), feeder["conductors"][1:]))

    # ---- what follows from the spec ----------------------------------------------------------------------------------

    def feeding(self, panel):
        """A panel and those that feed it, from it towards the bank."""
        way = [panel]
        while "fed_from" in self.panels[way[-1]]:
            way.append(self.panels[way[-1]]["fed_from"])
        return way

    def bus(self, panel):
        """The bus of a panel: the one it names, or one of its own."""
        return self.panels[panel].get("negative_bus", f"{panel}_negative")

    def bus_way(self, bus):
        """A bus and those that it leads through, from it towards the bank."""
        way = [bus]
        while True:
            after = self.buses.get(way[-1], {}).get("leads_to")
            if after is None:
                # Where the panels that use it are fed from; one on the bus of the panel that feeds it says nothing.
                users = [p for p in self.panels if self.bus(p) == way[-1]]
                sources = {self.bus(s) if s else None for s in (self.panels[p].get("fed_from") for p in users)} - {way[-1]}
                after = None if None in sources or not sources else min(sources)
            if after not in self.buses and after not in {self.bus(p) for p in self.panels}:
                return way
            way.append(after)

    def own_buses(self, panel):
        """The buses whose returns are the panel's own: those that the panel that feeds it does not return through."""
        feeding = self.panels[panel].get("fed_from")
        others = self.bus_way(self.bus(feeding)) if feeding else []
        return [bus for bus in self.bus_way(self.bus(panel)) if bus not in others]

    # ---- what the take-off must say ----------------------------------------------------------------------------------

    def gaps(self):
        """How many circuits have no conductor, their own or their feeder's."""
        return sum(1 for _ in self.expected_keys()) - sum("sku" in circuit for circuit in self.circuits())

    def circuits(self):
        """The circuits that can be followed from bank to device and back."""
        whole = [panel for panel in self.panels if all(p in self.feeders for p in self.feeding(panel))]
        return [c for c in self.take_off["circuits"] if c["conductors"] and c["panel"] in whole]

    def distance(self, start, end):
        """Length of the shortest chain of runs, metres, by Dijkstra's method."""
        if start not in self.ways:
            near = {}
            for run in self.spec["boat"]["runs"]:
                for a, b in ((run["from"], run["to"]), (run["to"], run["from"])):
                    near.setdefault(a, []).append((b, metres(run["length"])))
            known, queue = {}, [(0.0, start)]
            while queue:
                far, station = heapq.heappop(queue)
                if station in known:
                    continue
                known[station] = far
                for neighbour, step in near.get(station, []):
                    heapq.heappush(queue, (far + step, neighbour))
            self.ways[start] = known
        return self.ways[start][end]

    def accounts(self):
        """Everything that can be checked without solving a circuit: pairs of what and why."""
        excused = {g["what"] for g in self.take_off["gaps"]}
        missing = set(self.expected_keys()) - {c["key"] for c in self.take_off["circuits"]}
        for key in sorted(missing - excused):
            yield "missing", f"{key} has neither a circuit nor a gap"
        for circuit in self.take_off["circuits"]:
            if circuit["panel"] not in self.feeders and f"feeder/{circuit['panel']}" not in excused:
                yield "missing", f"the feeder of {circuit['panel']} is neither there nor a gap"
        for conductor in self.take_off["cut_list"]:
            yield from self.lengths_of(conductor)
        for cable in self.take_off["cables"]:
            yield from self.jacket_of(cable)
        for label in self.before:
            # The cables are counted before they have their sizes, and may only grow: what is stated is never too small.
            if self.more_v(label) < -1e-4:
                yield "before", f"{label} counts {-self.more_v(label):.4f} V less than the cables before it drop"
        for circuit in self.take_off["circuits"]:
            yield from self.currents_of(circuit)
        for feeder in self.take_off["feeders"]:
            yield from self.load_of(feeder)

    def jacket_of(self, cable):
        """What lies under one jacket: two or three conductors of one circuit, one size, one way, one length."""
        inside = [self.conductors[label] for label in cable["conductors"]]
        if len(inside) not in (2, 3) or [c["role"] for c in inside].count("return") != 1:
            yield "cable", f"{cable['label']} holds {cable['conductors']}"
        for conductor in inside:
            for field in ("gauge", "route", "cut_length", "installed_length", "circuit"):
                if conductor[field] != cable[field]:
                    yield "cable", f"{conductor['label']} in {cable['label']}: {field} is not that of the cable"
            if conductor["from"]["station"] != inside[0]["from"]["station"]:
                yield "cable", f"{cable['label']} starts at more than one station"
            if conductor["cable"] != cable["label"] or not conductor["label_colour"]:
                yield "cable", f"{conductor['label']} does not say that it lies in {cable['label']}, or under which colour"
        if len({c["colour"] for c in inside}) != len(inside):
            yield "cable", f"{cable['label']} has two conductors of one colour"

    def expected_keys(self):
        """Keys that the circuits must have: the entry's id, and a number for the second of a quantity on."""
        for entry in self.spec["equipment"]:
            for n in range(1, entry["quantity"] + 1):
                yield entry["id"] if n == 1 else f"{entry['id']}/{n}"

    def lengths_of(self, conductor):
        """The conductor's route, installed length and cut length."""
        start, end = conductor["from"]["station"], conductor["to"]["station"]
        route = self.distance(start, end)
        if abs(metres(conductor["route_length"]) - route) > ROUNDING_M:
            stated = metres(conductor["route_length"])
            yield "route", f"{conductor['label']} from {start} to {end} is {stated:.4f} m, the shortest way {route:.4f} m"
        # A cable of the sources that stays at its station never leaves it.
        stays = conductor["role"] not in OF_CIRCUITS and start == end
        installed = route if stays else route + self.rise[start] + self.rise[end]
        heavy = conductor["role"] not in LIGHT
        allowance = "battery_termination_allowance" if heavy else "termination_allowance"
        if conductor["role"] == "post_link":
            # From a post to its fuse the distance rule leaves 7 in (ABYC E-11).
            installed += POST_LINK_M
        elif stays and conductor["role"] in BETWEEN_BATTERIES:
            installed += BATTERY_TO_BATTERY_M
        else:
            installed += 2 * metres(self.settings[allowance])
        if abs(metres(conductor["installed_length"]) - installed) > ROUNDING_M:
            stated = metres(conductor["installed_length"])
            yield "length", f"{conductor['label']} is installed {stated:.4f} m, route, rises and ends come to {installed:.4f} m"
        carrying = installed + self.loops(conductor)
        if abs(metres(conductor["carrying_length"]) - carrying) > ROUNDING_M:
            stated = metres(conductor["carrying_length"])
            yield "length", f"{conductor['label']} carries over {stated:.4f} m, installed and loops come to {carrying:.4f} m"
        # Waste by what each part of it stands on: the estimated runs, and all the rest.
        guessed = self.estimated(conductor["route"])
        cut = carrying + (carrying - guessed) * self.settings["waste_measured_percent"] / 100
        cut += guessed * self.settings["waste_estimated_percent"] / 100
        if abs(metres(conductor["cut_length"]) - cut) > ROUNDING_M:
            stated = metres(conductor["cut_length"])
            yield "length", f"{conductor['label']} is cut {stated:.4f} m, with loops and waste it comes to {cut:.4f} m"

    def estimated(self, stations):
        """Length of the estimated runs along a chain of stations, metres."""
        total = 0.0
        for a, b in zip(stations, stations[1:]):
            between = [run for run in self.spec["boat"]["runs"] if {run["from"], run["to"]} == {a, b}]
            run = min(between, key=lambda run: metres(run["length"]))
            if run.get("length_source") == "estimated":
                total += metres(run["length"])
        return total

    def loops(self, conductor):
        """Service loops at both ends, metres; what lies in a cable has those of the conductor in it that needs most."""
        if "cable" in conductor:
            inside = self.cables[conductor["cable"]]["conductors"]
            return max(self.own_loops(self.conductors[label]) for label in inside)
        return self.own_loops(conductor)

    def own_loops(self, conductor):
        """Service loops at both ends of a conductor by itself, metres."""
        total = 0.0
        for end in (conductor["from"], conductor["to"]):
            if end["lands_on"] in PANEL_ENDS:
                total += metres(self.settings["service_loop_panel"])
            elif end["lands_on"] in DEVICE_ENDS:
                total += metres(self.settings["service_loop_device"])
        return total

    def attributes(self, circuit):
        """What the catalogue says of the circuit's device.

        The power tap of the data network is in no catalogue: it draws what the devices on the network do, 50 mA for each
        load equivalency number (NMEA 2000, as network makers' installation guides print it).
        """
        if "sku" not in circuit:
            on_it = [(e, self.items[e["sku"]]["attributes"].get("data_network")) for e in self.entries.values()]
            numbers = sum(e["quantity"] * network.get("load_equivalency", 0) for e, network in on_it if network)
            leads = [{"role": "switched_positive", "current_a": max(numbers, 1) * 0.05}, {"role": "return"}]
            return {"function": "navigation_electronics", "rated_voltage_v": 12, "leads": leads}
        return self.items[self.entries[circuit["key"].split("/")[0]]["sku"]]["attributes"]

    def leads_of(self, circuit):
        """The device's leads for each conductor of the circuit: by role, in order."""
        leads = {}
        for lead in self.attributes(circuit)["leads"]:
            leads.setdefault(lead["role"], []).append(lead)
        return {
            label: leads[self.conductors[label]["role"]].pop(0)
            for label in circuit["conductors"]
            if leads.get(self.conductors[label]["role"])
        }

    def current_of(self, circuit, lead):
        """What a lead draws at the bank's voltage, amperes: the power that it draws at the catalogue's.

        A return carries all that the positives draw at once: of a bilge pump one motor by either way in, of anything
        else both what is switched and what is constant.
        """
        attributes = self.attributes(circuit)
        scale = attributes["rated_voltage_v"] / circuit["nominal_voltage_v"]
        own = (lead.get("current_a") or 0.0) * scale
        if lead["role"] != "return":
            return own
        switched, constant = (
            sum((other.get("current_a") or 0.0) * scale for other in attributes["leads"] if other["role"] == role)
            for role in ("switched_positive", "constant_positive")
        )
        return max(own, max(switched, constant) if attributes["function"] == "bilge_pump" else switched + constant)

    def currents_of(self, circuit):
        """The current of each conductor of a circuit."""
        leads = self.leads_of(circuit)
        switched = next((label for label in leads if self.conductors[label]["role"] == "switched_positive"), None)
        for label in circuit["conductors"]:
            if self.conductors[label]["role"] == "running_light_return":
                continue
            if self.conductors[label]["role"] == "bilge_switch_feed":
                # What goes to the switch goes on from there, in one size.
                for field in ("design_current_a", "gauge"):
                    if self.conductors[label][field] != self.conductors[switched][field]:
                        yield "current", f"{label} and {switched} differ in {field}"
                continue
            if label not in leads:
                yield "current", f"{label} has no lead of its role on the device"
                continue
            stated, due = self.conductors[label]["design_current_a"], self.current_of(circuit, leads[label])
            if abs(stated - due) > 0.001 * due + 0.001:
                yield "current", f"{label} is sized for {stated} A, the catalogue's lead draws {due:.4f} A"

    def load_of(self, feeder):
        """The currents of a feeder by load analysis: its positive for all that it feeds, each of its returns for all that
        comes back through its bus.

        Only what got a circuit is listed with its column, so a conductor with a gap behind it is left out.
        """
        panel = feeder["panel"]
        fed = {p for p in self.panels if panel in self.feeding(p)}
        checks = [(feeder["conductors"][0], fed)]
        for bus in self.own_buses(panel):
            checks.append((self.return_of[bus], {p for p in self.panels if bus in self.bus_way(self.bus(p))}))
        for label, panels in checks:
            conductor = self.conductors[label]
            behind = [c for c in self.take_off["circuits"] if c["panel"] in panels]
            taps = sum("sku" not in c for c in behind)
            if len(behind) != taps + sum(e["quantity"] for e in self.entries.values() if e["panel"] in panels):
                continue
            always = sum(c["design_current_a"] for c in behind if c["load_column"] == "always")
            occasional = [c["design_current_a"] for c in behind if c["load_column"] == "occasional"]
            due = always + max(0.1 * sum(occasional), max(occasional, default=0.0))
            stated = conductor["design_current_a"]
            if abs(stated - due) > 0.001 * due + 0.001:
                yield "feeder", f"{conductor['label']} is sized for {stated} A, the load analysis gives {due:.3f} A"
        if feeder["design_current_a"] != self.conductors[feeder["conductors"][0]]["design_current_a"]:
            yield "feeder", f"{feeder['number']} and its positive are sized for different currents"
        if len(feeder["conductors"]) != 1 + len(self.own_buses(panel)):
            yield "feeder", f"{feeder['number']} has the returns {feeder['conductors'][1:]}, the buses {self.own_buses(panel)}"

    # ---- circuits as netlists ----------------------------------------------------------------------------------------

    def ohms(self, conductor, gauge=None):
        """Resistance of a conductor as installed, its service loops included."""
        if "ohms" in conductor:
            return conductor["ohms"]
        length = metres(conductor["installed_length"]) + self.loops(conductor)
        return self.copper.ohms(gauge or conductor["gauge"], length)

    def cables_before(self, conductor):
        """The bank's cables before a conductor that starts there, from the post on: those of the cut list, each at what all
        of them carry.

        Jumpers of a string carry its share; links between strings are taken as if both cables came off one battery. Where
        switch and main are aboard nobody has measured their cables, and what was counted stands for them.
        """
        ends_at_bank = conductor["label"] in self.before
        if not ends_at_bank:
            return []
        owner, role = conductor["circuit"], conductor["role"]
        panel = owner.removeprefix("feeder/")
        if panel == owner:
            panel = next(c["panel"] for c in self.take_off["circuits"] if c["key"] == owner)
        n, bank = self.banks[self.panel_bank(panel)]
        if role == "feeder_return":
            cables = [self.of_loads(label, bank) for label in (f"B{n}N",) if label in self.conductors]
            jumpers = [self.conductors[label] for label in bank["cables"] if self.conductors[label]["role"] in BETWEEN_BATTERIES]
            if jumpers:
                strings, each = bank["batteries"]["parallel"], [self.ohms(jumper) for jumper in jumpers]
                # They are all of one length and gauge.
                count = (bank["batteries"]["series"] - 1) / strings + strings - 1
                cables.insert(0, {"label": f"B{n}J", "ohms": max(each) * count, "design_current_a": bank["design_current_a"]})
            return cables
        if bank["bank"] in self.aboard:
            ohms = self.before[conductor["label"]]
            return [{"label": "aboard", "ohms": ohms, "design_current_a": conductor["design_current_a"]}]
        own = conductor["label"].removesuffix("+") if role == "feeder_positive" else conductor["label"]
        chain = [f"B{n}M", f"B{n}P", f"B{n}L {own}"]
        chain += [f"B{n}L", f"B{n}S", f"B{n}F"] if role == "feeder_positive" else []
        own_fuse = f"B{n}L {own}" in self.conductors
        chain += [f"B{n}A", f"B{n}B"] if role == "constant_positive" and not own_fuse else []
        return [self.of_loads(label, bank) for label in chain if label in self.conductors]

    def of_loads(self, label, bank):
        """A cable of the bank; one to a bus at a post with what the loads alone send through it: it is sized for charging
        currents and fuses too."""
        conductor = self.conductors[label]
        if label in (f"B{self.number_of(bank)}{what}" for what in "MPN"):
            return {**conductor, "design_current_a": bank["design_current_a"]}
        return conductor

    def number_of(self, bank):
        """The number of a bank in labels."""
        return next(n for n, other in self.banks.values() if other is bank)

    def panel_bank(self, panel):
        """The bank at the root of a panel."""
        return self.panels[self.feeding(panel)[-1]]["bank"]

    def more_v(self, label):
        """What the take-off counts before a conductor beyond what the cables there drop, volts."""
        conductor = self.conductors.get(label)
        if conductor is None:
            return 0.0
        cables = sum(self.ohms(cable) * cable["design_current_a"] for cable in self.cables_before(conductor))
        return self.before[label] * conductor["design_current_a"] - cables

    def lead_ohms(self, lead):
        """Resistance of the maker's own lead."""
        if lead is None or "size" not in lead or "length" not in lead:
            return 0.0
        return self.copper.ohms(lead["size"], metres(lead["length"]), makers_own=True)

    def feeder_positives(self, panel):
        """Positives from the bank to a panel, the bank's first."""
        return [self.conductors[self.feeders[p]["conductors"][0]] for p in reversed(self.feeding(panel))]

    def feeder_returns(self, panel):
        """Returns from a panel's bus to the bank, the bus's first."""
        return [self.conductors[self.return_of[bus]] for bus in self.bus_way(self.bus(panel))]

    def there(self, netlist, bank, conductors, draws, size):
        """Conductors one after another from the bank, each at its own current; `draws` is what goes on. Answers the end.

        What one carries beyond the next leaves where they meet.
        """
        conductors = (self.cables_before(conductors[0]) if conductors else []) + conductors
        return self.along(netlist, bank, conductors, draws, size)

    def along(self, netlist, at, conductors, draws, size):
        """Conductors one after another from a node on; answers the end."""
        for n, conductor in enumerate(conductors):
            end = netlist.node()
            netlist.resistor(at, end, self.ohms(conductor, size.get(conductor["label"])))
            goes_on = conductors[n + 1]["design_current_a"] if n + 1 < len(conductors) else draws
            netlist.draw(end, "0", conductor["design_current_a"] - goes_on)
            at = end
        return at

    def back(self, netlist, bank, conductors, comes, size):
        """The same back to the bank's negative; answers the node where it begins. `comes` is what arrives there."""
        conductors = conductors + (self.cables_before(conductors[-1])[::-1] if conductors else [])
        start = at = netlist.node()
        for n, conductor in enumerate(conductors):
            end = netlist.node() if n + 1 < len(conductors) else "0"
            netlist.draw(bank, at, conductor["design_current_a"] - comes)
            netlist.resistor(at, end, self.ohms(conductor, size.get(conductor["label"])))
            comes, at = conductor["design_current_a"], end
        if not conductors:
            netlist.resistor(start, "0", 0.0)
        return start

    def questions(self, netlist):
        """Writes every feeder and circuit into the netlist, and says what to measure."""
        for feeder in self.take_off["feeders"]:
            volts, panel = feeder["nominal_voltage_v"], feeder["panel"]
            own = [self.conductors[label] for label in feeder["conductors"]]
            bank = netlist.bank(volts)
            positive = self.there(netlist, bank, own[:1], 0.0, {})
            negative = self.back(netlist, bank, own[1:], 0.0, {})
            yield Question(
                netlist.measure(positive, negative),
                "panel",
                feeder["number"],
                volts,
                feeder["drop_limit_percent"],
                feeder["drop_percent"],
                more_v=self.more_of(own),
            )
            if not all(p in self.feeders for p in self.feeding(panel)):
                continue
            # From the bank to the panel there is no limit but that of each feeder and of each device.
            positive = self.there(netlist, bank, self.feeder_positives(panel), 0.0, {})
            negative = self.back(netlist, bank, self.feeder_returns(panel), 0.0, {})
            yield Question(
                netlist.measure(positive, negative),
                "panel from bank",
                feeder["number"],
                volts,
                feeder["drop_limit_percent"] * len(self.feeding(panel)),
                feeder["drop_from_bank_percent"],
                more_v=self.more_of(self.feeder_positives(panel) + self.feeder_returns(panel)),
            )
        for circuit in self.circuits():
            yield from self.circuit_questions(netlist, circuit)

    def circuit_questions(self, netlist, circuit):
        """One question for each positive; the stated drop is the worst of them."""
        places = []
        positives = [label for label in circuit["conductors"] if self.conductors[label]["role"] in POSITIVES]
        for n, label in enumerate(positives):
            places.append(
                Question(
                    self.write(netlist, circuit, label),
                    "circuit",
                    f"{circuit['number']} {label}",
                    circuit["nominal_voltage_v"],
                    circuit["drop_limit_percent"],
                    circuit["drop_percent"] if len(positives) == 1 else None,
                    first=n == 0,
                    more_v=self.more_of(self.way_of(circuit, label)),
                )
            )
        return places

    def way_of(self, circuit, positive_label):
        """The conductors from bank to device by one positive, and back."""
        positive = self.conductors[positive_label]
        switched = positive["role"] == "switched_positive"
        feeders = self.feeder_positives(circuit["panel"]) if switched else []
        return [*feeders, positive, *self.feeder_returns(circuit["panel"])]

    def more_of(self, conductors):
        """What is counted beyond the bank's cables along conductors, volts."""
        return sum(self.more_v(c["label"]) for c in conductors if c["label"] in self.before)

    def write(self, netlist, circuit, positive_label, smaller=None):
        """One positive of a circuit, from bank to device and back; answers the place of the voltage at the device.

        `smaller` replaces the size of a conductor: its label and a size. Conductors that others load as well carry
        those loads too: what is missing to a feeder's current is drawn at its panel and let in again at its bus.
        """
        size = dict([smaller]) if smaller else {}
        leads = self.leads_of(circuit)
        volts = circuit["nominal_voltage_v"]
        positive = self.conductors[positive_label]
        own = [self.conductors[label] for label in circuit["conductors"]]
        back = next(one for one in own if one["role"] == "return")
        draws = self.current_of(circuit, leads[positive_label])
        returns = max(self.current_of(circuit, leads[back["label"]]), draws)
        bank = netlist.bank(volts)
        far, device, device_back, far_back = netlist.node(), netlist.node(), netlist.node(), netlist.node()
        # What is always on comes from its own fuse at the battery, past feeders and panels.
        switched = positive["role"] == "switched_positive"
        feeders = self.feeder_positives(circuit["panel"]) if switched else []
        near = self.there(netlist, bank, feeders, draws, size) if switched else bank
        if not switched:
            near = self.along(netlist, bank, self.cables_before(positive), draws, size)
        through = next((one for one in own if one["role"] == "bilge_switch_feed"), None) if switched else None
        if through:
            near = self.along(netlist, near, [through], draws, size)
        netlist.resistor(near, far, self.ohms(positive, size.get(positive_label)))
        netlist.resistor(far, device, self.lead_ohms(leads[positive_label]))
        netlist.draw(device, device_back, draws)
        netlist.draw(bank, device_back, returns - draws)
        netlist.resistor(device_back, far_back, self.lead_ohms(leads[back["label"]]))
        bus = self.back(netlist, bank, self.feeder_returns(circuit["panel"]), returns, size)
        netlist.resistor(far_back, bus, self.ohms(back, size.get(back["label"])))
        return netlist.measure(device, device_back)

    def fault(self, netlist):
        """Makes one conductor two sizes smaller: the one whose copper drops most, of those that the drop sized.

        A positive and its return have one size. With the next smaller one both together would break the limit; so does
        the longer of them alone when it is two sizes smaller, for its area falls by more than half. Where the copper
        takes less than a tenth of the limit (maker's leads and feeder take the rest) the published resistance, lower
        than the shop's constant by up to 2 %, could cover it: such a circuit is not taken. None where there is no other.
        """
        worst = (0.1, None)
        for circuit in self.circuits():
            pair = [self.conductors[label] for label in circuit["conductors"]]
            smaller = self.copper.two_sizes_smaller(pair[0]["gauge"])
            alike = {(c["gauge"], c["limited_by"], c["design_current_a"]) for c in pair}
            if len(pair) != 2 or len(alike) != 1 or pair[0]["limited_by"] != "voltage_drop" or not smaller:
                continue
            longer = max(pair, key=lambda c: metres(c["carrying_length"]))
            limit_v = circuit["nominal_voltage_v"] * circuit["drop_limit_percent"] / 100
            share = self.ohms(longer) * longer["design_current_a"] / limit_v
            if share > worst[0]:
                worst = (share, (circuit, pair, longer, smaller))
        if worst[1] is None:
            return None
        circuit, pair, longer, smaller = worst[1]
        positive = next(c["label"] for c in pair if c["role"] in POSITIVES)
        return Question(
            self.write(netlist, circuit, positive, smaller=(longer["label"], smaller)),
            "circuit",
            f"{circuit['number']} {longer['label']} made {smaller} instead of {longer['gauge']}",
            circuit["nominal_voltage_v"],
            circuit["drop_limit_percent"],
            put_in=True,
            more_v=self.more_of(self.way_of(circuit, positive)),
        )
