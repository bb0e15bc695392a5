//! What the job needs, described by what it must be and not by a part number: the last thing known before any price.

mod frozen;
mod substitution;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use frozen::Frozen;
pub use substitution::{PartChange, Substitution};

use crate::rules::jackets::colour_word;
use crate::shop::item::{
    BatteryPart, Chemistry, Consumable, Fastener, Fitting, FuseFamily, NetworkClass, NetworkConnector, SellingUnit,
    Stud, SuppliedCableKind,
};
use crate::units::{Figure, Length, LengthUnit, LengthValue, Name, WireSize};

/// An insulation colour that is known. By another name, since a text that is borrowed for good could not be read back.
type Colour = &'static str;

/// What a thing must be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Need {
    /// Wire by size, colour and insulation; the pieces say in what lengths.
    Wire {
        /// Conductor size.
        size: WireSize,
        /// Insulation colour.
        #[serde(deserialize_with = "frozen::colour")]
        #[schema(value_type = String)]
        colour: Colour,
        /// Least temperature rating of the insulation, °C.
        insulation_c_min: u16,
    },
    /// Jacketed cable by conductors, size, colours and insulation; the pieces say in what lengths.
    Cable {
        /// Conductors in it.
        conductors: u8,
        /// Size of each.
        size: WireSize,
        /// Their insulation colours.
        #[schema(value_type = Vec<String>)]
        #[serde(deserialize_with = "frozen::colours")]
        colours: &'static [&'static str],
        /// Least temperature rating of the insulation, °C.
        insulation_c_min: u16,
        /// Thickest jacket that the sleeves over its ends slip over; absent where no tubing goes over any.
        #[serde(skip_serializing_if = "Option::is_none")]
        outside_diameter_max: Option<LengthValue>,
    },
    /// Ring terminal.
    RingTerminal {
        /// Wire it goes on.
        size: WireSize,
        /// Stud it lands on.
        stud: Stud,
    },
    /// Butt splice.
    ButtSplice {
        /// The larger of the two wires it joins.
        size: WireSize,
    },
    /// Heavy lug.
    Lug {
        /// Wire it goes on.
        size: WireSize,
        /// Stud it lands on.
        stud: Stud,
    },
    /// Adhesive heat shrink, in cut pieces.
    HeatShrink {
        /// Least inside diameter as supplied: the nominal size that the shrink rule gives.
        supplied_diameter: LengthValue,
        /// Most inside diameter after full recovery.
        recovered_diameter_max: LengthValue,
        /// Length of one cut piece.
        piece_length: LengthValue,
    },
    /// Fuse of a family.
    Fuse {
        /// Form of the fuse.
        family: FuseFamily,
        /// Rating, amperes.
        rating_a: f64,
        /// Least voltage rating, volts: the bank's charging voltage.
        voltage_v_min: f64,
        /// Least interrupt rating, amperes; 0 for a branch that its main fuse covers.
        interrupt_a_min: f64,
    },
    /// Holder for one fuse.
    FuseHolder {
        /// Form of the fuse.
        family: FuseFamily,
        /// Rating of the fuse it holds, amperes.
        rating_a: f64,
        /// Least voltage rating, volts.
        voltage_v_min: f64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Panel breaker.
    Breaker {
        /// Rating, amperes.
        rating_a: f64,
        /// Least voltage rating, volts: the bank's charging voltage.
        voltage_v_min: f64,
        /// Least interrupt rating, amperes; 0 for a branch that its main fuse covers.
        interrupt_a_min: f64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Label for a conductor end.
    WireLabel {
        /// Outside diameter it goes round.
        around: LengthValue,
    },
    /// Battery switch.
    BatterySwitch {
        /// Least continuous rating, amperes: the main protection before it.
        rating_a_min: f64,
        /// Least voltage rating, volts: the bank's charging voltage.
        voltage_v_min: f64,
        /// Stud its cables land on.
        stud: Stud,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Insulating boot over a terminal that stays live.
    TerminalBoot {
        /// Cable it goes over.
        size: WireSize,
        /// Its colour.
        #[serde(deserialize_with = "frozen::colour")]
        #[schema(value_type = String)]
        colour: Colour,
    },
    /// Bus where more terminals meet than a stud takes.
    Bus {
        /// Least number of places.
        least_positions: u16,
        /// Least continuous rating, amperes.
        rating_a_min: f64,
        /// Stud that its cables land on.
        stud: Stud,
    },
    /// Fuse block.
    FuseBlock {
        /// Least number of places.
        least_positions: u16,
        /// Form of the fuses.
        family: FuseFamily,
        /// Least continuous rating of the whole block, amperes.
        rating_a_min: f64,
        /// Least voltage rating, volts.
        voltage_v_min: f64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Battery charger.
    Charger {
        /// Least number of outputs.
        least_outputs: u16,
        /// Least charging current of an output, amperes.
        output_a_min: f64,
        /// Nominal voltage of the batteries.
        nominal_voltage_v: u16,
        /// What it must be able to charge; absent where nobody has said.
        #[serde(skip_serializing_if = "Option::is_none")]
        chemistry: Option<Chemistry>,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Combiner between banks that share a source.
    Combiner {
        /// Least continuous rating, amperes.
        rating_a_min: f64,
        /// Least voltage rating, volts.
        voltage_v_min: f64,
        /// Stud its cables land on.
        stud: Stud,
        /// Whether it must limit the current into a lithium bank.
        limits_charging: bool,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Receptacle and plug of a bow motor.
    BowReceptacle {
        /// Least continuous rating, amperes.
        rating_a_min: f64,
        /// Least voltage rating, volts.
        voltage_v_min: f64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Automatic, off and manual switch of a bilge pump, with a running light.
    BilgeSwitch {
        /// Least rating, amperes.
        rating_a_min: f64,
        /// Least voltage rating, volts.
        voltage_v_min: f64,
        /// Whether it must be ignition protected.
        ignition_protected: bool,
    },
    /// Hose; the pieces say in what lengths.
    Hose {
        /// Inside diameter.
        inside_diameter: LengthValue,
        /// Whether it must be reinforced, so that it may be used below the waterline; else smooth bore will do too.
        reinforced: bool,
    },
    /// Fitting of the plumbing.
    PlumbingFitting {
        /// Which.
        fitting: Fitting,
        /// Nominal size.
        nominal_size: LengthValue,
        /// Pipe thread at the other end of an adapter.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pipe_thread: Option<LengthValue>,
        /// Outlets of a manifold at least.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        least_ways: Option<u16>,
    },
    /// What closes on a hose or goes round a cable or bundle.
    Fastener {
        /// Which.
        fastener: Fastener,
        /// Outside diameter that it goes round.
        around: LengthValue,
    },
    /// Split loom; the pieces say in what lengths.
    Loom {
        /// Inside diameter at least.
        inside_diameter_min: LengthValue,
    },
    /// Messenger line; the pieces say in what lengths.
    MessengerLine {},
    /// What is used up and counted by the pack.
    Consumable {
        /// Which.
        consumable: Consumable,
    },
    /// What comes with a battery.
    BatteryHardware {
        /// Which.
        battery_part: BatteryPart,
        /// Battery that it must suit, by the trade's group number; absent where nobody has said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(value_type = Option<String>)]
        group: Option<Name>,
    },
    /// Network cable with a connector on both ends.
    NetworkCable {
        /// Class of its conductors.
        class: NetworkClass,
        /// Least length, metres.
        length_m_min: f64,
        /// Greatest length, metres: that which the limits of the network were reckoned with.
        length_m_max: f64,
    },
    /// Tee of the data network.
    NetworkTee {
        /// Connectors of the backbone.
        connector: NetworkConnector,
    },
    /// Terminator of the data network.
    NetworkTerminator {
        /// Connectors of the backbone.
        connector: NetworkConnector,
    },
    /// Cable that feeds the data network.
    NetworkPowerTap {
        /// Connectors of the backbone.
        connector: NetworkConnector,
        /// Least current that it carries, amperes.
        rating_a_min: f64,
    },
    /// Cable of a maker's own network from one display to the next.
    DisplayCable {
        /// Its plug, as the shop calls it.
        #[schema(value_type = String)]
        plug: Name,
        /// Least length, metres.
        length_m_min: f64,
    },
    /// Gateway that puts an engine's data on the network.
    EngineGateway {
        /// Most that it may draw from the network, in load equivalency numbers.
        load_equivalency_max: u8,
    },
    /// Extension of a cable that came with a device.
    CableExtension {
        /// What it extends.
        extends: SuppliedCableKind,
        /// Its plug, as the shop calls it.
        #[schema(value_type = String)]
        plug: Name,
        /// Least length, metres.
        length_m_min: f64,
    },
    /// One particular item that the spec or a package names.
    Item {
        /// The item.
        #[schema(value_type = String)]
        sku: Name,
    },
}

impl Need {
    /// The requirement's key: the same need has the same key on every recomputation, so that an overrule finds it.
    pub fn key(&self) -> String {
        match self {
            Need::Wire { size, colour, insulation_c_min } => format!("wire/{size}/{colour}/{insulation_c_min} C"),
            Need::Cable { conductors, size, colours, insulation_c_min, .. } => {
                format!("cable/{conductors} x {size}/{}/{insulation_c_min} C", colour_word(colours))
            }
            Need::RingTerminal { size, stud } => format!("ring_terminal/{size}/{}", stud.symbol()),
            Need::ButtSplice { size } => format!("butt_splice/{size}"),
            Need::Lug { size, stud } => format!("lug/{size}/{}", stud.symbol()),
            Need::HeatShrink { supplied_diameter, recovered_diameter_max, piece_length } => {
                format!("heat_shrink/{supplied_diameter} to {recovered_diameter_max}/{piece_length}")
            }
            Need::Fuse { family: f, rating_a, voltage_v_min, interrupt_a_min } => {
                let [rating, voltage, interrupt] = [rating_a, voltage_v_min, interrupt_a_min].map(|f| Figure(*f));
                format!("fuse/{}/{rating} A/{voltage} V/{interrupt} A", f.word())
            }
            Need::FuseHolder { family: f, rating_a, voltage_v_min, ignition_protected } => {
                let [rating, voltage] = [rating_a, voltage_v_min].map(|f| Figure(*f));
                format!("fuse_holder/{}/{rating} A/{voltage} V{}", f.word(), protected(*ignition_protected))
            }
            Need::Breaker { rating_a, voltage_v_min, interrupt_a_min, ignition_protected } => {
                let [rating, voltage, interrupt] = [rating_a, voltage_v_min, interrupt_a_min].map(|f| Figure(*f));
                format!("breaker/{rating} A/{voltage} V/{interrupt} A{}", protected(*ignition_protected))
            }
            Need::WireLabel { around } => format!("wire_label/{around}"),
            Need::BatterySwitch { rating_a_min, voltage_v_min, stud, ignition_protected } => format!(
                "battery_switch/{rating_a_min} A/{voltage_v_min} V/{}{}",
                stud.symbol(),
                protected(*ignition_protected)
            ),
            Need::TerminalBoot { size, colour } => format!("terminal_boot/{size}/{colour}"),
            Need::Bus { least_positions, rating_a_min, stud } => {
                format!("bus/{least_positions} places/{rating_a_min} A/{}", stud.symbol())
            }
            Need::FuseBlock { least_positions, family: f, rating_a_min, voltage_v_min, ignition_protected } => format!(
                "fuse_block/{}/{least_positions} places/{rating_a_min} A/{voltage_v_min} V{}",
                f.word(),
                protected(*ignition_protected)
            ),
            Need::Charger { least_outputs, output_a_min, nominal_voltage_v, chemistry, ignition_protected } => format!(
                "charger/{least_outputs} x {output_a_min} A/{nominal_voltage_v} V/{}{}",
                chemistry.map_or("any", Chemistry::word),
                protected(*ignition_protected)
            ),
            Need::Combiner { rating_a_min, voltage_v_min, stud, limits_charging, ignition_protected } => format!(
                "combiner/{rating_a_min} A/{voltage_v_min} V/{}{}{}",
                stud.symbol(),
                if *limits_charging { "/limits charging" } else { "" },
                protected(*ignition_protected)
            ),
            Need::BowReceptacle { rating_a_min, voltage_v_min, ignition_protected } => {
                format!("bow_receptacle/{rating_a_min} A/{voltage_v_min} V{}", protected(*ignition_protected))
            }
            Need::BilgeSwitch { rating_a_min, voltage_v_min, ignition_protected } => {
                format!("bilge_switch/{rating_a_min} A/{voltage_v_min} V{}", protected(*ignition_protected))
            }
            Need::Hose { inside_diameter, reinforced } => {
                format!("hose/{inside_diameter}/{}", if *reinforced { "reinforced" } else { "smooth" })
            }
            Need::PlumbingFitting { fitting, nominal_size, pipe_thread, least_ways } => {
                let by = pipe_thread.map(|size| format!("/{size} thread")).unwrap_or_default();
                let ways = least_ways.map(|ways| format!("/{ways} ways")).unwrap_or_default();
                format!("plumbing_fitting/{}/{nominal_size}{by}{ways}", fitting.word())
            }
            Need::Fastener { fastener, around } => format!("fastener/{}/{around}", fastener.word()),
            Need::Loom { inside_diameter_min } => format!("loom/{inside_diameter_min}"),
            Need::MessengerLine {} => "messenger_line".to_owned(),
            Need::Consumable { consumable } => format!("consumable/{}", consumable.word()),
            Need::BatteryHardware { battery_part, group } => {
                let group = group.as_ref().map(|group| format!("/group {group}")).unwrap_or_default();
                format!("battery_hardware/{}{group}", battery_part.word())
            }
            Need::NetworkCable { class, length_m_min, length_m_max } => {
                format!("network_cable/{}/{} m to {} m", class.word(), Figure(*length_m_min), Figure(*length_m_max))
            }
            Need::NetworkTee { connector } => format!("network_tee/{}", connector.word()),
            Need::NetworkTerminator { connector } => format!("network_terminator/{}", connector.word()),
            Need::NetworkPowerTap { connector, rating_a_min } => {
                format!("network_power_tap/{}/{} A", connector.word(), Figure(*rating_a_min))
            }
            Need::DisplayCable { plug, length_m_min } => format!("display_cable/{plug}/{} m", Figure(*length_m_min)),
            Need::EngineGateway { load_equivalency_max } => format!("engine_gateway/{load_equivalency_max} LEN"),
            Need::CableExtension { extends, plug, length_m_min } => {
                format!("cable_extension/{}/{plug}/{} m", extends.word(), Figure(*length_m_min))
            }
            Need::Item { sku } => ["item/", sku.as_str()].concat(),
        }
    }
}

impl Need {
    /// Whether it is cut from stock by length: its pieces are planned over the lengths that are sold.
    pub const fn by_length(&self) -> bool {
        matches!(
            self,
            Need::Wire { .. } | Need::Cable { .. } | Need::Hose { .. } | Need::Loom { .. } | Need::MessengerLine {}
        )
    }
}

fn protected(ignition_protected: bool) -> &'static str {
    if ignition_protected { "/ignition protected" } else { "" }
}

/// One piece that a requirement of length is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Label of the conductor it becomes.
    pub label: Name,
    /// Exact cut length, waste included.
    pub cut: Length,
}

/// One thing the job needs.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Requirement {
    /// Key; overrules refer to it.
    #[schema(value_type = String)]
    pub key: Name,
    /// What it must be.
    pub need: Need,
    /// How much: pieces, or length in `unit`.
    #[schema(value_type = String)]
    pub quantity: Decimal,
    /// Unit of the quantity.
    pub unit: SellingUnit,
    /// Circuits, feeders or pieces of equipment that need it.
    #[schema(value_type = Vec<String>)]
    pub used_by: Vec<Name>,
    /// How many of it the customer brings; those are not bought and not charged.
    #[serde(skip_serializing_if = "Decimal::is_zero")]
    #[schema(value_type = String)]
    pub customer_supplied: Decimal,
    /// The pieces of a requirement of length; the cut list carries them.
    #[serde(skip)]
    pub pieces: Vec<Piece>,
}

/// A length in the unit that quantities of length are counted in, to four places.
pub fn length_quantity(length: Length, unit: LengthUnit) -> (Decimal, SellingUnit) {
    let (per, selling) = match unit {
        LengthUnit::In | LengthUnit::Ft => (LengthUnit::Ft.nanometres(), SellingUnit::Foot),
        LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M => (LengthUnit::M.nanometres(), SellingUnit::Metre),
    };
    let exact = Decimal::from(length.nanometres()) / Decimal::from(per);
    let rounded = exact.round_dp_with_strategy(4, rust_decimal::RoundingStrategy::AwayFromZero);
    (rounded.normalize(), selling)
}
