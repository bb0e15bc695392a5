//! The shop's settings: allowances, colours, rates, mark-ups, tax.

use rust_decimal::Decimal;
use rust_decimal::dec;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::shop::item::{BranchProtection, Function, FuseFamily, NetworkClass, Wiring};
use crate::units::{AreaStandard, LengthUnit, LengthValue, Name, WireSize};

pub use super::fit_out::{AlongHabits, PlumbingHabits};
pub use super::levels_and_freight::{Freight, FreightRule, LevelPrice, PriceLevel};
pub use super::substitutes::{AcceptedColour, Substitutes};

/// Whether the customer pays for what goes into the boat, or for what has to be bought for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Charge {
    /// What is used: so many feet, so many terminals.
    Used,
    /// What is bought: whole spools and packs.
    Purchased,
}

/// Where a category's selling price comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PriceFrom {
    /// Cost plus the category's mark-up.
    MarkUp,
    /// The item's list price; cost plus mark-up for an item without one.
    List,
}

/// How one category of items is priced.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Category {
    /// Code that items refer to.
    #[schema(value_type = String, min_length = 1, max_length = 60, pattern = r"^[a-z0-9][a-z0-9_]*$", example = "wire")]
    pub code: Name,
    /// As printed.
    #[schema(min_length = 1, max_length = 100)]
    pub name: String,
    /// Mark-up on cost, percent.
    #[schema(value_type = String, pattern = r"^[0-9]{1,4}(\.[0-9]{1,4})?$", example = "80")]
    pub mark_up_percent: Decimal,
    /// What is charged.
    pub charge: Charge,
    /// Where the price comes from.
    pub price_from: PriceFrom,
    /// Tax class of its items unless they name their own.
    #[schema(value_type = String, min_length = 1, max_length = 60)]
    pub tax_class: Name,
    /// Days for which its prices can be promised; absent, the shop's usual.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 365)]
    pub valid_days: Option<u16>,
}

/// How the tax of a class is treated, as EN 16931 names the cases (UN/ECE 5305).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TaxTreatment {
    /// Taxed at the rate (code S).
    Standard,
    /// Taxed at zero (code Z).
    ZeroRated,
    /// Exempt (code E).
    Exempt,
    /// Outside the scope of the tax (code O).
    OutsideScope,
}

/// One tax class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TaxClass {
    /// Code that categories, items and lines refer to.
    #[schema(value_type = String, min_length = 1, max_length = 60, pattern = r"^[a-z0-9][a-z0-9_]*$", example = "goods")]
    pub code: Name,
    /// As printed.
    #[schema(min_length = 1, max_length = 100)]
    pub name: String,
    /// How it is treated.
    pub treatment: TaxTreatment,
    /// Rate, percent; 0 unless the treatment is `standard`.
    #[schema(value_type = String, pattern = r"^[0-9]{1,3}(\.[0-9]{1,4})?$", example = "7.25")]
    pub rate_percent: Decimal,
}

/// Which hours the customer is charged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LabourCharge {
    /// The sum of the likely times.
    Likely,
    /// The hours that four boats in five stay within.
    FourInFive,
}

/// Factors on labour by kind of job.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JobFactors {
    /// Factor on unit times while the hull is still open.
    #[schema(minimum = 0.1, maximum = 10)]
    pub bare_hull: f64,
    /// Factor on unit times of a new boat rigged for the first time.
    #[schema(minimum = 0.1, maximum = 10)]
    pub first_rig: f64,
    /// Factor on unit times of a boat that was rigged before.
    #[schema(minimum = 0.1, maximum = 10)]
    pub re_rig: f64,
}

/// The shop's colour for a function, in place of the published one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ColourChoice {
    /// What the circuit does.
    pub function: Function,
    /// Insulation colour of its positive.
    #[schema(min_length = 1, max_length = 40)]
    pub colour: String,
}

/// What the shop asks and allows beside its prices.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Terms {
    /// What is paid ahead of all that is no special order, percent; special orders are paid ahead in full.
    #[schema(value_type = String, pattern = r"^(100(\.0{1,4})?|[0-9]{1,2}(\.[0-9]{1,4})?)$", example = "30")]
    pub deposit_percent: Decimal,
    /// Most discount that anyone but an owner gives, percent of the lines.
    #[schema(value_type = String, pattern = r"^(100(\.0{1,4})?|[0-9]{1,2}(\.[0-9]{1,4})?)$", example = "10")]
    pub discount_limit_percent: Decimal,
    /// Least margin on the items of a quote, percent of what they sell for after the discount: below it only an owner
    /// issues. Absent, there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[0-9]{1,2}(\.[0-9]{1,4})?$", example = "15")]
    pub margin_floor_percent: Option<Decimal>,
}

impl Default for Terms {
    /// Starting values for a new shop (common practice, no source).
    fn default() -> Self {
        Terms { deposit_percent: dec!(30), discount_limit_percent: dec!(100), margin_floor_percent: None }
    }
}

/// When a quote takes hold of what is on the shelf for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Reserve {
    /// When the customer accepts it.
    AtAcceptance,
    /// When it is issued, so that what was promised is there.
    AtIssue,
}

/// How the shop uses what is on its shelf.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StockTerms {
    /// Whether what is counted on the shelf is used before anything is bought; lengths that were left over always are.
    pub use_stock_first: bool,
    /// When a quote takes hold of it.
    pub reserve: Reserve,
}

impl Default for StockTerms {
    /// Starting values for a new shop (common practice, no source).
    fn default() -> Self {
        StockTerms { use_stock_first: true, reserve: Reserve::AtAcceptance }
    }
}

/// How the shop lays data networks and leads the cables that come with devices.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NetworkTerms {
    /// Class of backbone cable unless a spec asks for another.
    pub cable: NetworkClass,
    /// Lengths of network cable that it keeps or will order, rising. Limits are reckoned with these.
    #[schema(min_items = 1, max_items = 40)]
    pub cable_lengths: Vec<LengthValue>,
    /// How much longer than needed a cable that came with a device may be before it is told.
    pub surplus_told: LengthValue,
}

impl Default for NetworkTerms {
    /// Starting values for a new shop (common practice, no source).
    fn default() -> Self {
        let metres = |value: f64| LengthValue { value, unit: LengthUnit::M };
        NetworkTerms {
            cable: NetworkClass::Light,
            cable_lengths: [0.5, 1.0, 2.0, 4.0, 6.0, 8.0, 10.0].map(metres).to_vec(),
            surplus_told: metres(3.0),
        }
    }
}

/// Everything of the shop's that is not an item, a package or a unit time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// Name printed on quotes.
    #[schema(min_length = 1, max_length = 200)]
    pub shop_name: String,
    /// What stands below the name on what leaves the shop: address, telephone, mail, one line each.
    #[serde(default)]
    #[schema(max_items = 8, example = json!(["12 Creek Road", "Mill Landing"]))]
    pub letterhead: Vec<String>,
    /// Conditions that every quote prints: how it is paid, what is guaranteed.
    #[serde(default)]
    #[schema(max_items = 20)]
    pub conditions: Vec<String>,
    /// Currency of all prices, ISO 4217.
    #[schema(pattern = r"^[A-Z]{3}$", example = "USD")]
    pub currency: String,
    /// Time zone whose calendar day counts (IANA name).
    #[schema(min_length = 1, max_length = 60, example = "America/New_York")]
    pub time_zone: String,
    /// Unit of lengths in answers.
    pub length_unit: LengthUnit,
    /// Standard that wire areas are taken from.
    pub area_standard: AreaStandard,
    /// Conductor sizes that the shop keeps or will order.
    #[schema(min_items = 1, max_items = 40)]
    pub stocked_sizes: Vec<WireSize>,
    /// Sizes of the other kind that it keeps for boats that ask for them: metric areas beside gauges, or gauges beside
    /// areas.
    #[serde(default)]
    #[schema(max_items = 40)]
    pub other_sizes: Vec<WireSize>,
    /// How circuits are wired unless the spec or the item says otherwise.
    #[serde(default)]
    pub wiring: Wiring,
    /// Conductor sizes that it keeps in jacketed cable: gauges, areas, or both.
    #[serde(default = "cable_sizes")]
    #[schema(max_items = 40)]
    pub cable_sizes: Vec<WireSize>,
    /// How far the conductors of a cable come out of its jacket at each end, at most 800 mm. Beyond 30 in a conductor of
    /// 18 AWG is too small.
    #[serde(default = "break_out")]
    pub break_out: LengthValue,
    /// Temperature rating of the wire the shop uses, °C: 60, 75, 80, 90, 105, 125 or 200 (metric: 60, 70, 90, 105, 125 or 200).
    #[schema(minimum = 60, maximum = 200)]
    pub insulation_c: u16,
    /// Copper constant of the area formula, ohm circular mil per foot.
    #[schema(minimum = 10, maximum = 14)]
    pub copper_ohm_cmil_per_ft: f64,
    /// Whether three or more loaded conductors in a bundle lower the allowable current below 50 V too.
    pub derate_bundles: bool,
    /// Colour of DC negative unless the spec says otherwise: black or yellow.
    #[schema(value_type = String, pattern = "^(black|yellow)$")]
    pub negative_colour: String,
    /// The shop's own colours.
    #[serde(default)]
    #[schema(max_items = 50)]
    pub colours: Vec<ColourChoice>,
    /// Waste on measured length, percent.
    #[schema(minimum = 0, maximum = 100)]
    pub waste_measured_percent: f64,
    /// Waste on estimated length, percent.
    #[schema(minimum = 0, maximum = 100)]
    pub waste_estimated_percent: f64,
    /// Slack left at a device.
    pub service_loop_device: LengthValue,
    /// Slack left at a panel, bus or fuse block.
    pub service_loop_panel: LengthValue,
    /// Length used up at each end.
    pub termination_allowance: LengthValue,
    /// Length used up at each end of a battery cable.
    pub battery_termination_allowance: LengthValue,
    /// Drop limit of feeders, percent of nominal voltage.
    #[schema(minimum = 0.5, maximum = 20)]
    pub feeder_drop_percent: f64,
    /// Drop limit from bank to a safety or electronics load, percent.
    #[schema(minimum = 0.5, maximum = 20)]
    pub critical_drop_percent: f64,
    /// Drop limit from bank to any other load, percent.
    #[schema(minimum = 0.5, maximum = 20)]
    pub general_drop_percent: f64,
    /// Spare positions of a panel, percent of those in use.
    #[serde(default = "spare_positions_percent")]
    #[schema(minimum = 0, maximum = 200, default = 25.0)]
    pub spare_positions_percent: f64,
    /// Spare positions of a panel at least.
    #[serde(default = "least_spare_positions")]
    #[schema(minimum = 0, maximum = 50, default = 2)]
    pub least_spare_positions: u16,
    /// Fuse and breaker ratings that the shop uses for branches, amperes, rising.
    #[schema(min_items = 1, max_items = 60)]
    pub branch_ratings_a: Vec<f64>,
    /// Fuse families for main protection, most wanted first.
    #[schema(min_items = 1, max_items = 8)]
    pub main_fuse_families: Vec<FuseFamily>,
    /// What protects a branch at a panel unless the panel says otherwise.
    pub branch_protection: BranchProtection,
    /// Habits along the way of cable.
    #[serde(default)]
    pub along: AlongHabits,
    /// Habits of plumbing.
    #[serde(default)]
    pub plumbing: PlumbingHabits,
    /// Labour rate per hour.
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "140.00")]
    pub labour_rate: Decimal,
    /// Tax class of labour.
    #[schema(value_type = String, min_length = 1, max_length = 60)]
    pub labour_tax_class: Name,
    /// Which hours are charged.
    pub labour_charge: LabourCharge,
    /// How far the times of one boat move together: 0 not at all, 1 wholly.
    #[schema(minimum = 0, maximum = 1)]
    pub labour_correlation: f64,
    /// Factors by kind of job.
    pub job_factors: JobFactors,
    /// Hours of work that the shop puts into one boat on a day, all hands together.
    #[serde(default = "hours_a_day")]
    #[schema(minimum = 1, maximum = 240)]
    pub hours_a_day: f64,
    /// Allowance for the unknown on labour, percent.
    #[schema(value_type = String, pattern = r"^[0-9]{1,2}(\.[0-9]{1,4})?$", example = "10")]
    pub unknown_allowance_percent: Decimal,
    /// The same on a re-rig, percent.
    #[schema(value_type = String, pattern = r"^[0-9]{1,2}(\.[0-9]{1,4})?$", example = "20")]
    pub unknown_allowance_re_rig_percent: Decimal,
    /// Price categories.
    #[schema(min_items = 1, max_items = 60)]
    pub categories: Vec<Category>,
    /// Price levels of customers.
    #[schema(max_items = 20)]
    pub price_levels: Vec<PriceLevel>,
    /// Freight.
    pub freight: Freight,
    /// Shop supplies (what is not itemised), percent of labour.
    #[schema(value_type = String, pattern = r"^[0-9]{1,2}(\.[0-9]{1,4})?$", example = "6")]
    pub shop_supplies_percent: Decimal,
    /// Most that shop supplies may come to.
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "200.00")]
    pub shop_supplies_limit: Decimal,
    /// Tax class of shop supplies.
    #[schema(value_type = String, min_length = 1, max_length = 60)]
    pub shop_supplies_tax_class: Name,
    /// Tax classes.
    #[schema(min_items = 1, max_items = 30)]
    pub tax_classes: Vec<TaxClass>,
    /// Days for which a quote holds.
    #[schema(minimum = 1, maximum = 365)]
    pub valid_days: u16,
    /// Deposit, limits on discounts, and the least margin.
    pub terms: Terms,
    /// How what is on the shelf is used.
    pub stock: StockTerms,
    /// What is taken in place of exactly what is needed, where that costs less.
    #[serde(default)]
    pub substitutes: Substitutes,
    /// Data networks, and cables that come with devices.
    #[serde(default)]
    pub network: NetworkTerms,
}

fn spare_positions_percent() -> f64 {
    25.0
}

fn least_spare_positions() -> u16 {
    2
}

/// A working day of one rigger (common practice).
fn hours_a_day() -> f64 {
    8.0
}

fn cable_sizes() -> Vec<WireSize> {
    let gauges = [18, 16, 14, 12, 10, 8, 6].map(WireSize::Awg);
    let areas = [75, 100, 150, 250, 400, 600].map(WireSize::Metric);
    gauges.into_iter().chain(areas).collect()
}

fn break_out() -> LengthValue {
    inches(6.0)
}

fn inches(value: f64) -> LengthValue {
    LengthValue { value, unit: LengthUnit::In }
}

impl Settings {
    /// Starting values for a new shop (common practice, no source): it changes them as it learns.
    pub fn starting() -> Self {
        let category = |code: &str, name: &str, mark_up_percent: Decimal, charge, valid_days| Category {
            code: code.into(),
            name: name.to_owned(),
            mark_up_percent,
            charge,
            price_from: PriceFrom::MarkUp,
            tax_class: "goods".into(),
            valid_days,
        };
        let awg = WireSize::Awg;
        Settings {
            shop_name: "The shop".to_owned(),
            letterhead: Vec::new(),
            conditions: Vec::new(),
            currency: "USD".to_owned(),
            time_zone: "UTC".to_owned(),
            length_unit: LengthUnit::Ft,
            area_standard: AreaStandard::Awg,
            stocked_sizes: [16, 14, 12, 10, 8, 6, 4, 2, 0, -1, -3].map(awg).to_vec(),
            other_sizes: Vec::new(),
            wiring: Wiring::default(),
            cable_sizes: cable_sizes(),
            break_out: break_out(),
            insulation_c: 105,
            copper_ohm_cmil_per_ft: 10.75,
            derate_bundles: true,
            negative_colour: "black".to_owned(),
            colours: Vec::new(),
            waste_measured_percent: 10.0,
            waste_estimated_percent: 20.0,
            service_loop_device: inches(8.0),
            service_loop_panel: inches(18.0),
            termination_allowance: inches(3.0),
            battery_termination_allowance: inches(6.0),
            feeder_drop_percent: 3.0,
            critical_drop_percent: 3.0,
            general_drop_percent: 10.0,
            spare_positions_percent: spare_positions_percent(),
            least_spare_positions: least_spare_positions(),
            branch_ratings_a: vec![1.0, 2.0, 3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0],
            main_fuse_families: vec![FuseFamily::TerminalCube, FuseFamily::Anl, FuseFamily::ClassT],
            branch_protection: BranchProtection::BladeFuse,
            along: AlongHabits::default(),
            plumbing: PlumbingHabits::default(),
            labour_rate: dec!(140),
            labour_tax_class: "service".into(),
            labour_charge: LabourCharge::Likely,
            labour_correlation: 0.5,
            job_factors: JobFactors { bare_hull: 0.85, first_rig: 1.0, re_rig: 1.4 },
            hours_a_day: hours_a_day(),
            unknown_allowance_percent: dec!(10),
            unknown_allowance_re_rig_percent: dec!(20),
            categories: vec![
                category("electronics", "Electronics", dec!(20), Charge::Used, Some(14)),
                category("batteries", "Batteries", dec!(30), Charge::Used, None),
                category("pumps_and_panels", "Pumps and panels", dec!(45), Charge::Used, None),
                category("wire", "Wire and cable", dec!(80), Charge::Used, None),
                category("terminals_and_fuses", "Terminals and fuses", dec!(120), Charge::Used, None),
                category("hardware", "Hardware", dec!(45), Charge::Used, None),
                category("subcontract", "Subcontract", dec!(15), Charge::Used, None),
            ],
            price_levels: Vec::new(),
            freight: Freight { rule: FreightRule::None, tax_class: "goods".into() },
            shop_supplies_percent: dec!(6),
            shop_supplies_limit: dec!(200),
            shop_supplies_tax_class: "goods".into(),
            tax_classes: vec![
                TaxClass {
                    code: "goods".into(),
                    name: "Goods".to_owned(),
                    treatment: TaxTreatment::Standard,
                    rate_percent: dec!(0),
                },
                TaxClass {
                    code: "service".into(),
                    name: "Service".to_owned(),
                    treatment: TaxTreatment::Standard,
                    rate_percent: dec!(0),
                },
            ],
            valid_days: 30,
            terms: Terms::default(),
            stock: StockTerms::default(),
            substitutes: Substitutes::default(),
            network: NetworkTerms::default(),
        }
    }
}
