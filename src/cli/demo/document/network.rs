//! What the page reads of the data network and of supplied cables.

use serde::Deserialize;

use super::Length;

/// The data network.
#[derive(Debug, Deserialize)]
pub struct Network {
    pub cable: String,
    pub tee_stations: Vec<String>,
    pub spans: Vec<Span>,
    pub devices: Vec<Device>,
    pub backbone_length: Length,
    pub backbone_limit: Length,
    pub drops_length: Length,
    pub drops_limit: Length,
    pub load_equivalency: u32,
    pub current_a: f64,
    pub current_limit_a: f64,
    pub tees: u32,
    pub terminators: u32,
    pub power: Option<Power>,
    #[serde(default)]
    pub display_links: Vec<Link>,
}

/// A stretch of the backbone.
#[derive(Debug, Deserialize)]
pub struct Span {
    pub label: String,
    pub route: Vec<String>,
    pub needed_length: Length,
    pub pieces: Vec<Length>,
    pub length_source: String,
}

/// A device.
#[derive(Debug, Deserialize)]
pub struct Device {
    pub equipment: String,
    pub tee_station: String,
    pub load_equivalency: u32,
    pub drop: Option<Drop>,
}

/// Its drop.
#[derive(Debug, Deserialize)]
pub struct Drop {
    pub label: String,
    pub needed_length: Length,
    pub planned_length: Length,
    pub supplied: bool,
    pub length_source: String,
}

/// How the network is fed.
#[derive(Debug, Deserialize)]
pub struct Power {
    pub station: String,
    pub panel: String,
    pub feed: String,
    pub drop_limit_v: f64,
    pub legs: Vec<Leg>,
}

/// One way from the tap.
#[derive(Debug, Deserialize)]
pub struct Leg {
    pub to: String,
    pub length: Length,
    pub drop_v: f64,
    pub end_voltage_v: f64,
}

/// A cable between displays.
#[derive(Debug, Deserialize)]
pub struct Link {
    pub label: String,
    pub plug: String,
    pub from: String,
    pub to: String,
    pub needed_length: Length,
}

/// A cable that comes with a device.
#[derive(Debug, Deserialize)]
pub struct SuppliedCable {
    pub label: String,
    pub equipment: String,
    pub cable: String,
    pub route: Vec<String>,
    pub length: Length,
    pub needed_length: Length,
    pub extension: Option<Length>,
    pub advice: String,
}
