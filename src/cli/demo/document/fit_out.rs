//! Of a document: what is met along the way of cable, and the plumbing.

use serde::Deserialize;

use super::Length;

/// What is met along the way of cable.
#[derive(Debug, Deserialize)]
pub struct Along {
    pub consumables: String,
    pub runs: Vec<AlongRun>,
    pub drip_loops: Count,
    pub labels: Count,
    pub terminal_protectant: Count,
    pub solvent: Count,
}

/// So many of something.
#[derive(Debug, Deserialize)]
pub struct Count {
    pub count: u32,
}

/// One run.
#[derive(Debug, Deserialize)]
pub struct AlongRun {
    pub from: String,
    pub to: String,
    pub cables: u32,
    pub bundle: Length,
    pub tube: Option<Tube>,
    pub supports: Option<Count>,
    pub ties: Option<Count>,
    pub grommets: Option<Count>,
}

/// How full a tube is.
#[derive(Debug, Deserialize)]
pub struct Tube {
    pub inside_diameter: Option<Length>,
    pub already: u32,
    pub fill_percent: Option<f64>,
    pub most_percent: f64,
    pub narrowest: Length,
    pub room: Option<u32>,
}

/// The plumbing of raw-water pumps.
#[derive(Debug, Deserialize)]
pub struct Plumbing {
    pub pumps: Vec<Pump>,
    pub intakes: Vec<Intake>,
    pub hoses: Vec<Hose>,
    pub holes: Holes,
}

/// A raw-water pump.
#[derive(Debug, Deserialize)]
pub struct Pump {
    pub pump: String,
    pub intake: Option<String>,
    pub discharge: String,
    pub discharge_station: Option<String>,
}

/// Where water is drawn from the sea.
#[derive(Debug, Deserialize)]
pub struct Intake {
    pub intake: String,
    pub station: String,
    pub pipe: Length,
    pub aboard: bool,
    pub strainer: bool,
    pub manifold_ways: Option<u16>,
    pub pumps: Vec<String>,
}

/// A hose.
#[derive(Debug, Deserialize)]
pub struct Hose {
    pub label: String,
    pub inside_diameter: Length,
    pub reinforced: bool,
    pub from: HoseEnd,
    pub to: HoseEnd,
    pub cut_length: Length,
    pub length_source: String,
    pub clamps: u32,
}

/// An end of a hose.
#[derive(Debug, Deserialize)]
pub struct HoseEnd {
    pub station: Option<String>,
    pub on: String,
}

/// Holes that are drilled.
#[derive(Debug, Deserialize)]
pub struct Holes {
    pub below_waterline: u32,
    pub above_waterline: u32,
    pub core_sealed: u32,
    pub core_kits: u32,
    pub cartridges: u32,
}
