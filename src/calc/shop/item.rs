//! One row of the catalogue: what the thing is, by attributes that requirements are matched on, and how it is sold.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calc::units::{LengthValue, Name, WireSize};

/// A selling unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SellingUnit {
    /// By the piece.
    Each,
    /// By the foot.
    Foot,
    /// By the metre.
    Metre,
}

impl SellingUnit {
    /// UN/ECE Recommendation 20 code.
    pub const fn unece_code(self) -> &'static str {
        match self {
            SellingUnit::Each => "EA",
            SellingUnit::Foot => "FOT",
            SellingUnit::Metre => "MTR",
        }
    }

    /// As printed beside a quantity.
    pub const fn symbol(self) -> &'static str {
        match self {
            SellingUnit::Each => "each",
            SellingUnit::Foot => "ft",
            SellingUnit::Metre => "m",
        }
    }
}

/// What the shop orders from its supplier: a piece, a pack, a box, a spool, a stick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BuyingUnit {
    /// A single piece.
    Each,
    /// A pack of pieces.
    Pack,
    /// A box of pieces.
    Box,
    /// A spool of wire or cable.
    Spool,
    /// A stick or cut length of tubing.
    Stick,
    /// Bought by the foot.
    Foot,
    /// Bought by the metre.
    Metre,
}

/// Which price a price row gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PriceKind {
    /// What the shop pays for one buying unit.
    Cost,
    /// What the customer is asked for one selling unit.
    List,
}

/// A price with the day from which it holds; later rows of the same kind and quantity take over from their day on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// Cost of a buying unit, or list price of a selling unit.
    pub kind: PriceKind,
    /// First day on which the price holds, in the shop's time zone.
    #[schema(example = "2026-01-01")]
    pub valid_from: NaiveDate,
    /// Least number of buying units (cost) or selling units (list) at which it holds; 1 unless stated.
    #[serde(default = "one")]
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "1", default = "1")]
    pub minimum_quantity: Decimal,
    /// The price, in the shop's currency; at most six decimal places.
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "31.00")]
    pub amount: Decimal,
}

fn one() -> Decimal {
    Decimal::ONE
}

/// The job of a lead of a device; connections go by it, never by the maker's colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LeadRole {
    /// Positive that the panel switches.
    SwitchedPositive,
    /// Positive that stays live with the battery switch off, with its own fuse at the battery.
    ConstantPositive,
    /// Negative return.
    Return,
    /// Signal lead: carries no load and is not wired by the take-off.
    Signal,
    /// Dimmer lead: follows the lighting circuit, and is not wired by the take-off.
    Dim,
}

/// Standard stud and screw sizes that terminals land on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
pub enum Stud {
    /// Number 6 screw.
    #[serde(rename = "#6")]
    No6,
    /// Number 8 screw.
    #[serde(rename = "#8")]
    No8,
    /// Number 10 screw.
    #[serde(rename = "#10")]
    No10,
    /// 1/4 in stud.
    #[serde(rename = "1/4 in")]
    Quarter,
    /// 5/16 in stud.
    #[serde(rename = "5/16 in")]
    FiveSixteenths,
    /// 3/8 in stud.
    #[serde(rename = "3/8 in")]
    ThreeEighths,
    /// 1/2 in stud.
    #[serde(rename = "1/2 in")]
    Half,
}

impl Stud {
    /// As written in JSON and in print.
    pub const fn symbol(self) -> &'static str {
        match self {
            Stud::No6 => "#6",
            Stud::No8 => "#8",
            Stud::No10 => "#10",
            Stud::Quarter => "1/4 in",
            Stud::FiveSixteenths => "5/16 in",
            Stud::ThreeEighths => "3/8 in",
            Stud::Half => "1/2 in",
        }
    }
}

/// One lead of a device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Lead {
    /// What the lead is for.
    pub role: LeadRole,
    /// Current in it at the rated voltage, amperes. A return without one carries the most that any positive does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1000)]
    pub current_a: Option<f64>,
    /// Size of the maker's own lead; its copper counts in the voltage drop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<WireSize>,
    /// Length of the maker's own lead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<LengthValue>,
    /// The stud that a run conductor lands on; absent, the lead is a pigtail and is spliced.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stud: Option<Stud>,
    /// Insulation colour of the maker's lead, for the splice list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 40)]
    pub maker_colour: Option<String>,
}

/// What a device does; colour, drop class, load column and duty follow from it unless the item says otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Function {
    /// Bilge pump.
    BilgePump,
    /// Live-well or bait-well pump.
    LiveWellPump,
    /// Raw-water wash-down pump.
    WashDownPump,
    /// Fresh-water pump.
    FreshWaterPump,
    /// Macerator or other waste pump.
    WastePump,
    /// Bilge blower.
    BilgeBlower,
    /// Navigation or anchor light.
    NavigationLight,
    /// Cabin, courtesy or deck light.
    InteriorLight,
    /// Spot or flood light.
    Floodlight,
    /// Multifunction display, chart plotter, sounder or radar.
    NavigationElectronics,
    /// Engine or tank instrument.
    Instrument,
    /// VHF or other radio.
    Radio,
    /// Stereo or amplifier.
    Audio,
    /// Horn.
    Horn,
    /// High-water, gas or smoke alarm.
    Alarm,
    /// Trim tabs.
    TrimTabs,
    /// Windlass or winch.
    Windlass,
    /// Bow motor.
    BowMotor,
    /// Refrigerator or cool box.
    Refrigerator,
    /// Outlet for portable equipment.
    Outlet,
    /// Anything else.
    Accessory,
}

impl Function {
    /// The function as it is written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Function::BilgePump => "bilge_pump",
            Function::LiveWellPump => "live_well_pump",
            Function::WashDownPump => "wash_down_pump",
            Function::FreshWaterPump => "fresh_water_pump",
            Function::WastePump => "waste_pump",
            Function::BilgeBlower => "bilge_blower",
            Function::NavigationLight => "navigation_light",
            Function::InteriorLight => "interior_light",
            Function::Floodlight => "floodlight",
            Function::NavigationElectronics => "navigation_electronics",
            Function::Instrument => "instrument",
            Function::Radio => "radio",
            Function::Audio => "audio",
            Function::Horn => "horn",
            Function::Alarm => "alarm",
            Function::TrimTabs => "trim_tabs",
            Function::Windlass => "windlass",
            Function::BowMotor => "bow_motor",
            Function::Refrigerator => "refrigerator",
            Function::Outlet => "outlet",
            Function::Accessory => "accessory",
        }
    }
}

/// How long a load runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Duty {
    /// For hours: protection is sized at 125 %.
    Continuous,
    /// For minutes.
    Intermittent,
}

/// The column of the panel load analysis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LoadColumn {
    /// May have to run at any time with all others of this column: counts in full.
    Always,
    /// Runs now and then: a tenth of the sum counts, or the largest if that is more.
    Occasional,
}

/// The voltage-drop class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DropClass {
    /// Safety and electronics: 3 %.
    Critical,
    /// Everything else: 10 %.
    General,
}

/// Fuse families, by form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FuseFamily {
    /// Regular blade fuse (ISO 8820-3 type C).
    Blade,
    /// Maxi blade fuse (ISO 8820-3 type E).
    MaxiBlade,
    /// Glass tube, 1/4 by 1 1/4 in.
    GlassTube,
    /// Cube on a battery or bus stud.
    TerminalCube,
    /// Bolt-down strip, M5 studs.
    SmallBolt,
    /// Bolt-down strip, M8 studs.
    LargeBolt,
    /// ANL bolt-down.
    Anl,
    /// Class T.
    ClassT,
}

impl FuseFamily {
    /// The family as it is written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            FuseFamily::Blade => "blade",
            FuseFamily::MaxiBlade => "maxi_blade",
            FuseFamily::GlassTube => "glass_tube",
            FuseFamily::TerminalCube => "terminal_cube",
            FuseFamily::SmallBolt => "small_bolt",
            FuseFamily::LargeBolt => "large_bolt",
            FuseFamily::Anl => "anl",
            FuseFamily::ClassT => "class_t",
        }
    }
}

/// What protects a branch at a panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BranchProtection {
    /// A blade fuse in the panel's own holder.
    BladeFuse,
    /// A breaker in the panel.
    Breaker,
}

/// A labour operation that comes with an item, and how many of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LabourUse {
    /// Code of the labour operation.
    #[schema(value_type = String, max_length = 60)]
    pub operation: Name,
    /// How many of it for one of the item.
    #[schema(value_type = String, pattern = r"^[0-9]{1,6}(\.[0-9]{1,3})?$", example = "1")]
    pub quantity: Decimal,
}

/// What the thing is. Requirements are matched on these attributes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Attributes {
    /// Equipment that is wired: it has leads.
    Device {
        /// What it does.
        function: Function,
        /// Voltage at which the currents of its leads are stated.
        #[schema(minimum = 1, maximum = 100)]
        rated_voltage_v: f64,
        /// Nominal system voltages it may be wired to; a current at another voltage than the rated one is that of equal power.
        #[schema(min_items = 1, max_items = 8)]
        nominal_voltages_v: Vec<u16>,
        /// Its leads.
        #[schema(min_items = 1, max_items = 16)]
        leads: Vec<Lead>,
        /// How long it runs; by function unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        duty: Option<Duty>,
        /// Load analysis column; by function unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        load_column: Option<LoadColumn>,
        /// Drop class; by function unless stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        drop_class: Option<DropClass>,
        /// Fuse rating that its maker states, amperes.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(minimum = 0.5, maximum = 600)]
        maker_fuse_a: Option<f64>,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Single-conductor wire or cable.
    Wire {
        /// Conductor size.
        size: WireSize,
        /// Insulation colour.
        #[schema(min_length = 1, max_length = 40)]
        colour: String,
        /// Temperature rating of the insulation, °C.
        insulation_c: u16,
        /// Whether the copper is tinned.
        #[serde(default)]
        tinned: bool,
    },
    /// Ring terminal, insulated.
    RingTerminal {
        /// Smallest wire it takes.
        size_from: WireSize,
        /// Largest wire it takes.
        size_to: WireSize,
        /// Stud it fits.
        stud: Stud,
    },
    /// Butt splice.
    ButtSplice {
        /// Smallest wire it takes.
        size_from: WireSize,
        /// Largest wire it takes.
        size_to: WireSize,
    },
    /// Heavy lug.
    Lug {
        /// The wire size it takes.
        size: WireSize,
        /// Stud it fits.
        stud: Stud,
    },
    /// Adhesive-lined heat-shrink tubing.
    HeatShrink {
        /// Inside diameter as supplied.
        supplied_diameter: LengthValue,
        /// Inside diameter after full recovery.
        recovered_diameter: LengthValue,
        /// Length of one selling unit: the stick, or the ready-cut piece.
        piece_length: LengthValue,
    },
    /// Fuse.
    Fuse {
        /// Form of the fuse.
        family: FuseFamily,
        /// Rating, amperes.
        #[schema(minimum = 0.25, maximum = 1000)]
        rating_a: f64,
        /// Highest voltage it may break, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Current it can interrupt at that voltage, amperes.
        #[schema(minimum = 1, maximum = 1000000)]
        interrupt_a: f64,
    },
    /// Holder for one fuse.
    FuseHolder {
        /// Form of fuse it holds.
        family: FuseFamily,
        /// Largest fuse it takes, amperes.
        #[schema(minimum = 1, maximum = 1000)]
        rating_max_a: f64,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Circuit breaker.
    Breaker {
        /// Rating, amperes.
        #[schema(minimum = 0.5, maximum = 1000)]
        rating_a: f64,
        /// Highest voltage it may break, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Current it can interrupt at that voltage, amperes.
        #[schema(minimum = 1, maximum = 1000000)]
        interrupt_a: f64,
        /// Whether it is ignition protected.
        #[serde(default)]
        ignition_protected: bool,
    },
    /// Label for a conductor end.
    WireLabel {
        /// Largest outside diameter it goes round.
        diameter_max: LengthValue,
    },
    /// Switch panel.
    Panel {
        /// Switched positions.
        #[schema(minimum = 1, maximum = 100)]
        positions: u16,
        /// What protects each branch.
        protection: BranchProtection,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Stud or screw that a branch lands on.
        stud: Stud,
    },
    /// Negative bus.
    Bus {
        /// Places for branch returns.
        #[schema(minimum = 1, maximum = 100)]
        positions: u16,
        /// Stud or screw that a branch return lands on.
        stud: Stud,
        /// Continuous rating, amperes.
        #[schema(minimum = 1, maximum = 2000)]
        rating_a: f64,
    },
    /// Battery.
    Battery {
        /// Nominal voltage, volts.
        nominal_voltage_v: u16,
        /// Capacity at the 20 h rate, ampere-hours.
        #[schema(minimum = 1, maximum = 2000)]
        capacity_ah: f64,
        /// Cold-cranking rating, amperes; absent for one that has none.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schema(minimum = 1, maximum = 5000)]
        cold_cranking_a: Option<f64>,
    },
    /// Battery switch.
    BatterySwitch {
        /// Continuous rating, amperes.
        #[schema(minimum = 1, maximum = 2000)]
        rating_a: f64,
        /// Highest voltage, volts DC.
        #[schema(minimum = 1, maximum = 1000)]
        voltage_rating_v: f64,
        /// Stud its cables land on.
        stud: Stud,
    },
    /// Anything that is counted and not wired.
    Hardware {},
}

impl Attributes {
    /// The kind as it is written in JSON.
    pub const fn kind(&self) -> &'static str {
        match self {
            Attributes::Device { .. } => "device",
            Attributes::Wire { .. } => "wire",
            Attributes::RingTerminal { .. } => "ring_terminal",
            Attributes::ButtSplice { .. } => "butt_splice",
            Attributes::Lug { .. } => "lug",
            Attributes::HeatShrink { .. } => "heat_shrink",
            Attributes::Fuse { .. } => "fuse",
            Attributes::FuseHolder { .. } => "fuse_holder",
            Attributes::Breaker { .. } => "breaker",
            Attributes::WireLabel { .. } => "wire_label",
            Attributes::Panel { .. } => "panel",
            Attributes::Bus { .. } => "bus",
            Attributes::Battery { .. } => "battery",
            Attributes::BatterySwitch { .. } => "battery_switch",
            Attributes::Hardware {} => "hardware",
        }
    }
}

/// One row of the catalogue.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Item {
    /// The shop's own identifier of the item.
    #[schema(value_type = String, min_length = 1, max_length = 60, pattern = r"^[A-Za-z0-9][A-Za-z0-9._/-]*$", example = "W16-BRN-100")]
    pub sku: Name,
    /// What it is, as a customer reads it.
    #[schema(min_length = 1, max_length = 200)]
    pub description: String,
    /// Price category: one of the shop's settings.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "wire")]
    pub category: Name,
    /// What the thing is.
    pub attributes: Attributes,
    /// The unit a customer is charged in.
    pub selling_unit: SellingUnit,
    /// The unit the shop orders in.
    pub buying_unit: BuyingUnit,
    /// How many selling units one buying unit holds.
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "100")]
    pub buying_quantity: Decimal,
    /// Tax class: one of the shop's settings. Absent, that of the category.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 60)]
    pub tax_class: Option<Name>,
    /// Days from order to shelf; 0 for what is kept.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 730)]
    pub lead_time_days: u16,
    /// Whether it is ordered for one customer and cannot go back.
    #[serde(default)]
    pub special_order: bool,
    /// Labour operations that come with one of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 20)]
    pub labour: Vec<LabourUse>,
    /// Prices over time.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub prices: Vec<Price>,
    /// Who supplies it; for the owner only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 120)]
    pub supplier: Option<String>,
    /// Whether it has left the catalogue: it can be read but no longer quoted.
    #[serde(default)]
    pub retired: bool,
}

impl Item {
    /// The price of a kind in force on a day for a quantity: of the highest quantity step that is reached, the row
    /// that began last.
    pub fn price_on(&self, kind: PriceKind, day: NaiveDate, quantity: Decimal) -> Option<&Price> {
        self.prices
            .iter()
            .filter(|p| p.kind == kind && p.valid_from <= day && p.minimum_quantity <= quantity)
            .max_by_key(|p| (p.minimum_quantity, p.valid_from))
    }
}
