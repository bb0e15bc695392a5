//! Loads: what the equipment asks of the wiring, lead by lead.

use crate::rules::functions::defaults;
use crate::rules::protection::CONTINUOUS_FACTOR;
use crate::shop::item::{Attributes, DropClass, Duty, Function, Lead, LeadRole, LoadColumn, Stud, Wiring};
use crate::spec::boat::Boat;
use crate::units::{Length, Name, WireSize, within};

/// A lead of a device as the circuit meets it, its current at the voltage of the bank.
#[derive(Clone, Debug)]
pub struct DeviceLead {
    /// Switched or constant positive, or return.
    pub role: LeadRole,
    /// Current, amperes.
    pub current_a: f64,
    /// The maker's own lead: size and length, when both are known.
    pub maker_lead: Option<(WireSize, Length)>,
    /// Stud that a conductor lands on; absent, it is spliced to a pigtail.
    pub stud: Option<Stud>,
}

/// One load: a device that is wired.
#[derive(Clone, Debug)]
pub struct Load {
    /// Place of the equipment in the boat.
    pub equipment: usize,
    /// Key of its circuit.
    pub key: Name,
    /// Number of its circuit, `C01` and on.
    pub number: Name,
    /// What it does.
    pub function: Function,
    /// Place of its station.
    pub station: usize,
    /// Place of its panel.
    pub panel: usize,
    /// Nominal voltage.
    pub voltage_v: f64,
    /// How long it runs.
    pub duty: Duty,
    /// Load analysis column.
    pub load_column: LoadColumn,
    /// Drop class.
    pub drop_class: DropClass,
    /// Fuse that the maker states, amperes.
    pub maker_fuse_a: Option<f64>,
    /// Positive leads, switched ones first; each gets its own conductor and protection.
    pub positives: Vec<DeviceLead>,
    /// The return; it carries all that the positives can draw, or what the item says if that is more.
    pub negative: DeviceLead,
    /// How it is wired, where spec or item say so.
    pub wiring: Option<Wiring>,
    /// Leads that the take-off does not wire, as text.
    pub unconnected: Vec<String>,
}

impl Load {
    /// Least rating of the device of a positive that carries `current_a`, amperes: the maker's where he states one that
    /// holds it.
    pub fn fuse_needs_a(&self, current_a: f64) -> f64 {
        match self.maker_fuse_a.filter(|fuse_a| within(current_a, *fuse_a)) {
            Some(fuse_a) => fuse_a,
            None if self.duty == Duty::Continuous => current_a * CONTINUOUS_FACTOR,
            None => current_a,
        }
    }
}

/// Most that a device can draw through its return, amperes, from the sums of its switched and constant positives: a
/// bilge pump has one motor behind both, anything else may draw through all at once.
pub fn drawn_a(function: Function, switched_a: f64, constant_a: f64) -> f64 {
    match function {
        Function::BilgePump => switched_a.max(constant_a),
        _ => switched_a + constant_a,
    }
}

/// The loads of a boat in canonical order: by panel, station and key. Numbers are given in that order.
pub fn loads(boat: &Boat) -> Vec<Load> {
    let mut loads: Vec<Load> = boat.equipment.iter().enumerate().filter_map(|(i, _)| load(boat, i)).collect();
    loads.sort_by(|a, b| (a.panel, a.station, &a.key).cmp(&(b.panel, b.station, &b.key)));
    let width = if loads.len() > 99 { 3 } else { 2 };
    for (i, load) in loads.iter_mut().enumerate() {
        load.number = Name::from(format!("C{:0width$}", i + 1));
    }
    loads
}

fn load(boat: &Boat, place: usize) -> Option<Load> {
    let equipment = &boat.equipment[place];
    let Attributes::Device {
        function,
        rated_voltage_v,
        leads,
        duty,
        load_column,
        drop_class,
        maker_fuse_a,
        wiring,
        ..
    } = &equipment.item.attributes
    else {
        return None;
    };
    let (station, panel) = (equipment.station?, equipment.panel?);
    let voltage_v = boat.banks[boat.panels[panel].bank].nominal_voltage_v;
    // A device that takes several voltages draws the same power at each, so its current falls as the voltage rises.
    // The catalogue has filled in what the item left out.
    let scale = rated_voltage_v.unwrap_or(voltage_v) / voltage_v;
    let of_role = |role: LeadRole| leads.iter().filter(move |lead| lead.role == role);
    let device_lead = |lead: &Lead| DeviceLead {
        role: lead.role,
        current_a: lead.current_a.unwrap_or(0.0) * scale,
        maker_lead: lead.size.zip(lead.length.and_then(|l| l.length())),
        stud: lead.stud,
    };
    let positives: Vec<DeviceLead> =
        of_role(LeadRole::SwitchedPositive).chain(of_role(LeadRole::ConstantPositive)).map(device_lead).collect();
    let sum = |role: LeadRole| positives.iter().filter(|lead| lead.role == role).map(|lead| lead.current_a).sum();
    let drawn_a = drawn_a(*function, sum(LeadRole::SwitchedPositive), sum(LeadRole::ConstantPositive));
    let negative = match of_role(LeadRole::Return).next() {
        Some(lead) => {
            let stated = device_lead(lead);
            DeviceLead { current_a: stated.current_a.max(drawn_a), ..stated }
        }
        None => DeviceLead { role: LeadRole::Return, current_a: drawn_a, maker_lead: None, stud: None },
    };
    let unconnected = leads
        .iter()
        .filter_map(|lead| {
            let role = match lead.role {
                LeadRole::Signal => "signal",
                LeadRole::Dim => "dimmer",
                _ => return None,
            };
            Some(match &lead.maker_colour {
                Some(colour) => format!("{role} ({colour})"),
                None => role.to_owned(),
            })
        })
        .collect();
    let usual = defaults(*function);
    (!positives.is_empty()).then(|| Load {
        equipment: place,
        key: equipment.key.clone(),
        number: Name::from(""),
        function: *function,
        station,
        panel,
        voltage_v,
        duty: duty.unwrap_or(usual.duty),
        load_column: load_column.unwrap_or(usual.load_column),
        drop_class: drop_class.unwrap_or(usual.drop_class),
        maker_fuse_a: *maker_fuse_a,
        positives,
        negative,
        wiring: equipment.wiring.or(*wiring),
        unconnected,
    })
}
