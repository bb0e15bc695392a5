//! Gathers what every stage needs into requirements: one for each distinct need, with who needs it.

mod fit_out;

pub use fit_out::FitOut;

use rust_decimal::Decimal;
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use crate::circuits::ends::ShrinkPiece;
use crate::requirements::{Need, Piece, Requirement, length_quantity};
use crate::rules::jackets;
use crate::shop::item::{Chemistry, FuseFamily, NetworkClass, NetworkConnector, SellingUnit, Stud, SuppliedCableKind};
use crate::units::{Length, LengthUnit, LengthValue, Name, WireSize, rounded};

/// A need in a form that can be ordered: figures in thousandths.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// Wire.
    Wire {
        /// Size.
        size: WireSize,
        /// Colour.
        colour: &'static str,
        /// Insulation, °C.
        insulation_c: u16,
    },
    /// Jacketed cable.
    Cable {
        /// Size of each conductor.
        size: WireSize,
        /// Their colours.
        colours: &'static [&'static str],
        /// Insulation, °C.
        insulation_c: u16,
    },
    /// Ring terminal.
    Ring(WireSize, Stud),
    /// Butt splice.
    Splice(WireSize),
    /// Lug.
    Lug(WireSize, Stud),
    /// Heat shrink.
    Shrink(ShrinkPiece),
    /// Fuse.
    Fuse {
        /// Form.
        family: FuseFamily,
        /// Rating, milliamperes.
        rating_ma: u64,
        /// Least voltage rating, millivolts.
        voltage_mv: u64,
        /// Least interrupt rating, amperes.
        interrupt_a: u64,
    },
    /// Fuse holder.
    Holder {
        /// Form.
        family: FuseFamily,
        /// Rating, milliamperes.
        rating_ma: u64,
        /// Least voltage rating, millivolts.
        voltage_mv: u64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Breaker.
    Breaker {
        /// Rating, milliamperes.
        rating_ma: u64,
        /// Least voltage rating, millivolts.
        voltage_mv: u64,
        /// Least interrupt rating, amperes.
        interrupt_a: u64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Label for a conductor of this diameter.
    Label(Length),
    /// Battery switch.
    Switch {
        /// Least rating, milliamperes.
        rating_ma: u64,
        /// Least voltage rating, millivolts.
        voltage_mv: u64,
        /// Stud.
        stud: Stud,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Boot over a terminal: cable and colour.
    Boot(WireSize, &'static str),
    /// Bus.
    Bus {
        /// Least number of places.
        positions: u16,
        /// Least rating, milliamperes.
        rating_ma: u64,
        /// Stud.
        stud: Stud,
    },
    /// Fuse block.
    FuseBlock {
        /// Least number of places.
        positions: u16,
        /// Form of the fuses.
        family: FuseFamily,
        /// Least rating, milliamperes.
        rating_ma: u64,
        /// Least voltage rating, millivolts.
        voltage_mv: u64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Charger.
    Charger {
        /// Least number of outputs.
        outputs: u16,
        /// Least current of an output, milliamperes.
        output_ma: u64,
        /// Nominal voltage of the batteries.
        nominal_voltage_v: u16,
        /// What it must charge.
        chemistry: Option<Chemistry>,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Combiner.
    Combiner {
        /// Least rating, milliamperes.
        rating_ma: u64,
        /// Least voltage rating, millivolts.
        voltage_mv: u64,
        /// Stud.
        stud: Stud,
        /// Whether it must limit the current into a lithium bank.
        limits_charging: bool,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Receptacle and plug of a bow motor.
    BowReceptacle {
        /// Least rating, milliamperes.
        rating_ma: u64,
        /// Least voltage rating, millivolts.
        voltage_mv: u64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Switch of a bilge pump.
    BilgeSwitch {
        /// Least rating, milliamperes.
        rating_ma: u64,
        /// Least voltage rating, millivolts.
        voltage_mv: u64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Of the fit-out.
    FitOut(FitOut),
    /// Network cable.
    NetworkCable {
        /// Class.
        class: NetworkClass,
        /// Least length, millimetres.
        min_mm: u64,
        /// Greatest length, millimetres.
        max_mm: u64,
    },
    /// Tee of the data network.
    NetworkTee(NetworkConnector),
    /// Terminator of the data network.
    NetworkTerminator(NetworkConnector),
    /// Power tap of the data network.
    NetworkPowerTap {
        /// Connectors.
        connector: NetworkConnector,
        /// Least rating, milliamperes.
        rating_ma: u64,
    },
    /// Cable between displays.
    DisplayCable {
        /// Plug.
        plug: Name,
        /// Least length, millimetres.
        min_mm: u64,
    },
    /// Gateway of an engine: most that it may draw, in load equivalency numbers.
    EngineGateway(u8),
    /// Extension of a supplied cable.
    CableExtension {
        /// What it extends.
        extends: SuppliedCableKind,
        /// Plug.
        plug: Name,
        /// Least length, millimetres.
        min_mm: u64,
    },
    /// A particular item.
    Item(Name),
}

impl Part {
    /// The key of the requirement that it becomes.
    pub fn key(&self) -> Name {
        Name::from(need_of(self.clone()).key())
    }
}

/// The least whole millimetres that a length must have, for [`Part`]: never less than it is.
pub fn millimetres_up(length: Length) -> u64 {
    let one = LengthUnit::Mm.nanometres();
    u64::try_from(length.nanometres()).unwrap_or_default().div_ceil(one.unsigned_abs())
}

/// Thousandths of a figure, for [`Part`].
pub fn thousandths(figure: f64) -> u64 {
    (figure * 1000.0).round() as u64
}

fn figure(thousandths: u64) -> f64 {
    thousandths as f64 / 1000.0
}

/// What has been gathered of one part.
#[derive(Debug, Default)]
struct Gathered {
    count: u32,
    customer_supplied: u32,
    pieces: Vec<Piece>,
    /// Numbers of the users, in the order in which they came.
    used_by: SmallVec<[u32; 8]>,
}

/// All parts gathered so far. Their order is given when they become requirements, by key.
#[derive(Debug, Default)]
pub struct Gathering {
    parts: FxHashMap<Part, Gathered>,
    users: Vec<Name>,
    numbers: FxHashMap<Name, u32>,
}

impl Gathering {
    /// One more of a part, for this circuit, feeder or piece of equipment.
    pub fn add(&mut self, part: Part, used_by: &Name) {
        self.entry(part, used_by).count += 1;
    }

    /// So many more of a part.
    pub fn add_many(&mut self, part: Part, count: u32, used_by: &Name) {
        if count > 0 {
            self.entry(part, used_by).count += count;
        }
    }

    /// One more of an item that the customer brings.
    pub fn add_customer_supplied(&mut self, part: Part, used_by: &Name) {
        let gathered = self.entry(part, used_by);
        gathered.count += 1;
        gathered.customer_supplied += 1;
    }

    /// A piece of wire or cable.
    pub fn add_piece(&mut self, part: Part, piece: Piece, used_by: &Name) {
        self.entry(part, used_by).pieces.push(piece);
    }

    fn entry(&mut self, part: Part, used_by: &Name) -> &mut Gathered {
        let number = self.number(used_by);
        let gathered = self.parts.entry(part).or_default();
        if gathered.used_by.last() != Some(&number) && !gathered.used_by.contains(&number) {
            gathered.used_by.push(number);
        }
        gathered
    }

    /// The number of a user. Needs come one after the other from the same user, so that the last is looked at first.
    fn number(&mut self, user: &Name) -> u32 {
        if let Some(last) = self.users.last()
            && last == user
        {
            return self.users.len() as u32 - 1;
        }
        *self.numbers.entry(user.clone()).or_insert_with(|| {
            self.users.push(user.clone());
            self.users.len() as u32 - 1
        })
    }

    /// The requirements in order of key. Lengths are counted in the unit of `unit`.
    pub fn into_requirements(self, unit: LengthUnit) -> Vec<Requirement> {
        let Gathering { parts, users, .. } = self;
        let needs = parts.into_iter().map(|(part, gathered)| {
            let need = need_of(part);
            Some((Name::from(need.key()), need, gathered))
        });
        let mut needs: Vec<Option<(Name, Need, Gathered)>> = needs.collect();
        // The order is found among places, so that nothing large is moved about.
        let mut order: Vec<usize> = (0..needs.len()).collect();
        order.sort_unstable_by(|a, b| {
            let key = |place: usize| needs[place].as_ref().map(|(key, ..)| key);
            key(*a).cmp(&key(*b))
        });
        let in_order = order.into_iter().filter_map(|place| needs[place].take());
        in_order
            .map(|(key, need, gathered)| {
                let (quantity, selling) = if gathered.pieces.is_empty() {
                    (Decimal::from(gathered.count), SellingUnit::Each)
                } else {
                    length_quantity(gathered.pieces.iter().map(|piece| piece.cut).sum(), unit)
                };
                Requirement {
                    key,
                    need,
                    quantity,
                    unit: selling,
                    used_by: gathered.used_by.iter().map(|&user| users[user as usize].clone()).collect(),
                    customer_supplied: Decimal::from(gathered.customer_supplied),
                    pieces: gathered.pieces,
                }
            })
            .collect()
    }
}

/// What a part must be.
pub fn need_of(part: Part) -> Need {
    match part {
        Part::Wire { size, colour, insulation_c } => Need::Wire { size, colour, insulation_c_min: insulation_c },
        Part::Cable { size, colours, insulation_c } => Need::Cable {
            conductors: colours.len() as u8,
            size,
            colours,
            insulation_c_min: insulation_c,
            outside_diameter_max: jackets::sleeve(colours.len(), size)
                .map(|sleeve| inches(jackets::thickest_under(sleeve))),
        },
        Part::Ring(size, stud) => Need::RingTerminal { size, stud },
        Part::Splice(size) => Need::ButtSplice { size },
        Part::Lug(size, stud) => Need::Lug { size, stud },
        Part::Shrink(piece) => Need::HeatShrink {
            supplied_diameter: inches(piece.supplied),
            recovered_diameter_max: inches(piece.recovered),
            piece_length: inches(piece.piece),
        },
        Part::Fuse { family, rating_ma, voltage_mv, interrupt_a } => Need::Fuse {
            family,
            rating_a: figure(rating_ma),
            voltage_v_min: figure(voltage_mv),
            interrupt_a_min: interrupt_a as f64,
        },
        Part::Holder { family, rating_ma, voltage_mv, ignition_protected } => Need::FuseHolder {
            family,
            rating_a: figure(rating_ma),
            voltage_v_min: figure(voltage_mv),
            ignition_protected,
        },
        Part::Breaker { rating_ma, voltage_mv, interrupt_a, ignition_protected } => Need::Breaker {
            rating_a: figure(rating_ma),
            voltage_v_min: figure(voltage_mv),
            interrupt_a_min: interrupt_a as f64,
            ignition_protected,
        },
        Part::Label(around) => Need::WireLabel { around: inches(around) },
        Part::Switch { rating_ma, voltage_mv, stud, ignition_protected } => Need::BatterySwitch {
            rating_a_min: figure(rating_ma),
            voltage_v_min: figure(voltage_mv),
            stud,
            ignition_protected,
        },
        Part::Boot(size, colour) => Need::TerminalBoot { size, colour },
        Part::Bus { positions, rating_ma, stud } => {
            Need::Bus { least_positions: positions, rating_a_min: figure(rating_ma), stud }
        }
        Part::FuseBlock { positions, family, rating_ma, voltage_mv, ignition_protected } => Need::FuseBlock {
            least_positions: positions,
            family,
            rating_a_min: figure(rating_ma),
            voltage_v_min: figure(voltage_mv),
            ignition_protected,
        },
        Part::Charger { outputs, output_ma, nominal_voltage_v, chemistry, ignition_protected } => Need::Charger {
            least_outputs: outputs,
            output_a_min: figure(output_ma),
            nominal_voltage_v,
            chemistry,
            ignition_protected,
        },
        Part::Combiner { rating_ma, voltage_mv, stud, limits_charging, ignition_protected } => Need::Combiner {
            rating_a_min: figure(rating_ma),
            voltage_v_min: figure(voltage_mv),
            stud,
            limits_charging,
            ignition_protected,
        },
        Part::BowReceptacle { rating_ma, voltage_mv, ignition_protected } => Need::BowReceptacle {
            rating_a_min: figure(rating_ma),
            voltage_v_min: figure(voltage_mv),
            ignition_protected,
        },
        Part::BilgeSwitch { rating_ma, voltage_mv, ignition_protected } => {
            Need::BilgeSwitch { rating_a_min: figure(rating_ma), voltage_v_min: figure(voltage_mv), ignition_protected }
        }
        Part::FitOut(part) => part.need(),
        Part::NetworkCable { class, min_mm, max_mm } => {
            Need::NetworkCable { class, length_m_min: figure(min_mm), length_m_max: figure(max_mm) }
        }
        Part::NetworkTee(connector) => Need::NetworkTee { connector },
        Part::NetworkTerminator(connector) => Need::NetworkTerminator { connector },
        Part::NetworkPowerTap { connector, rating_ma } => {
            Need::NetworkPowerTap { connector, rating_a_min: figure(rating_ma) }
        }
        Part::DisplayCable { plug, min_mm } => Need::DisplayCable { plug, length_m_min: figure(min_mm) },
        Part::EngineGateway(load_equivalency_max) => Need::EngineGateway { load_equivalency_max },
        Part::CableExtension { extends, plug, min_mm } => {
            Need::CableExtension { extends, plug, length_m_min: figure(min_mm) }
        }
        Part::Item(sku) => Need::Item { sku },
    }
}

/// Diameters and cut lengths of tubing are traded in inches.
fn inches(length: Length) -> LengthValue {
    LengthValue { value: rounded(length.inch(), 3), unit: LengthUnit::In }
}
