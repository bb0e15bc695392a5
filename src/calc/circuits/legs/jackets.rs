//! Jackets: which circuits lie in one cable, and what that makes of their legs.
//!
//! 1. Two or three conductors that start at one station, end at one station and go one way can be in a jacket. Any
//!    other circuit stays in single conductors, and is told why.
//! 2. A cable is as long as the conductor in it that needs most: all of them have that length.
//! 3. What the break-outs at its ends take is part of that length. They are no more than the cable.
//! 4. The conductors inside count as one bundle, wherever the cable lies.

use super::{Laid, negative_colour};
use crate::circuits::loads::Load;
use crate::rules::jackets::{CONDUCTORS, colours};
use crate::shop::item::Wiring;
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::take_off::ConductorRole;
use crate::units::{Length, Name};

/// One circuit's conductors under one jacket.
#[derive(Clone, Debug)]
pub struct Cable {
    /// Place of its load.
    pub circuit: usize,
    /// Label: the number of the circuit.
    pub label: Name,
    /// Its conductors, by place in [`Laid::legs`]: positives in the order of the circuit, then the return.
    pub legs: Vec<usize>,
    /// Colours that it comes in.
    pub colours: &'static [&'static str],
    /// Colour of each conductor, in the order of `legs`.
    pub inside: Vec<&'static str>,
}

/// Puts the circuits that are to be in a jacket into one, where that can be.
pub(super) fn jacket(laid: &mut Laid, boat: &Boat, loads: &[Load], settings: &Settings) {
    for (place, load) in loads.iter().enumerate() {
        if load.wiring.unwrap_or(settings.wiring) != Wiring::JacketedCable {
            continue;
        }
        match cable(laid, boat, (place, load), settings) {
            Ok(cable) => {
                laid.in_cable.resize(laid.legs.len(), None);
                let longest = cable.legs.iter().map(|leg| laid.legs[*leg].lengths).max_by_key(|l| l.carrying);
                for &leg in &cable.legs {
                    laid.in_cable[leg] = Some(laid.cables.len());
                    laid.legs[leg].lengths = longest.unwrap_or_default();
                }
                laid.cables.push(cable);
            }
            Err(why) => laid.kept_single.push((place, why)),
        }
    }
}

/// The cable of a circuit, or why it cannot be in one.
fn cable(laid: &Laid, boat: &Boat, (place, load): (usize, &Load), settings: &Settings) -> Result<Cable, String> {
    let circuit = &laid.circuits[place];
    let legs: Vec<usize> = circuit.positives.iter().copied().chain([circuit.negative]).collect();
    let negative = negative_colour(boat);
    let Some(colours) = colours(legs.len(), negative).filter(|_| CONDUCTORS.contains(&legs.len())) else {
        return Err(format!("it has {} conductors, and cable has two or three", legs.len()));
    };
    let of = |leg: usize| &laid.legs[leg];
    if let Some(feed) = circuit.switch_feed(laid) {
        let switch = &boat.stations[of(feed).to.station].id;
        return Err(format!("its switch is at '{switch}', and {} goes there first", of(feed).label));
    }
    let first = of(legs[0]);
    if let Some(other) = legs.iter().map(|leg| of(*leg)).find(|leg| leg.from.station != first.from.station) {
        let station = |leg: &super::Leg| boat.stations[leg.from.station].id.clone();
        return Err(format!(
            "{} comes from '{}' and {} from '{}', and what lies under one jacket starts at one station",
            first.label,
            station(first),
            other.label,
            station(other)
        ));
    }
    if let Some(other) = legs.iter().map(|leg| of(*leg)).find(|leg| leg.route.runs != first.route.runs) {
        return Err(format!("{} and {} take different ways", first.label, other.label));
    }
    let break_out = settings.break_out.length().unwrap_or_default();
    let longest = legs.iter().map(|leg| of(*leg).lengths.carrying).max().unwrap_or(Length::ZERO);
    if break_out * 2 >= longest {
        return Err("it is no longer than what comes out of the jacket at both ends".to_owned());
    }
    // Of a switched and a constant positive the one that stays live is red.
    let constant = legs.iter().position(|leg| of(*leg).role == ConductorRole::ConstantPositive);
    let red = constant.unwrap_or(0);
    let inside = (0..legs.len()).map(|n| match n {
        n if n == red => colours[0],
        n if n + 1 == legs.len() => negative,
        _ => colours[1],
    });
    Ok(Cable { circuit: place, label: load.number.clone(), inside: inside.collect(), colours, legs })
}
