//! Batteries of a bank: what they come to, and the jumpers between them.

use super::Sources;
use super::cables::{Cable, Made, here};
use super::studs::Terminal;
use crate::basis::Value;
use crate::circuits::legs::{LegEnd, battery_stud, negative_colour};
use crate::gathering::Part;
use crate::rules::functions::FEEDER_COLOUR;
use crate::rules::protection::standard_ratings;
use crate::rules::table::energy::{BANK_CAPACITY, BANK_CRANKING, BANK_JUMPERS};
use crate::take_off::{BankBatteries, ConductorRole, LandsOn};
use crate::units::{Name, WireSize, rounded};

impl Sources<'_, '_> {
    /// Batteries that the job supplies, with their jumpers of the gauge of `feed`, and what links between strings put on
    /// positive and negative post.
    pub(super) fn batteries(
        &mut self,
        place: usize,
        feed: Option<WireSize>,
        owner: &Name,
    ) -> Option<(BankBatteries, [Option<Terminal>; 2])> {
        let facts = self.facts;
        let bank = &facts.boat.banks[place];
        let (least_ah, strongest_a) = bank.of_one?;
        for (item, count) in &bank.batteries {
            self.part(Part::Item(item.sku.clone()), u32::from(*count), owner);
        }
        if bank.batteries.len() > 1 {
            let skus: Vec<&str> = bank.batteries.iter().map(|(item, _)| item.sku.as_str()).collect();
            let message = format!(
                "unlike batteries in one bank ({}): the weakest sets what it holds and the others are overcharged; use one kind, of one age",
                skus.join(", ")
            );
            self.warn(&bank.id, message);
        }
        let (series, parallel) = (u32::from(bank.series), u32::from(bank.parallel));
        let number = |n: u32| Value::Number(f64::from(n));
        let capacity_ah = least_ah * f64::from(parallel);
        let capacity_basis = self.ledger.note(
            &BANK_CAPACITY,
            &[("least_battery_ah", Value::Number(least_ah)), ("parallel", number(parallel))],
            capacity_ah,
        );
        let cold_cranking_a = strongest_a.map(|a| a * f64::from(parallel));
        let cranking_basis = strongest_a.map(|a| {
            let inputs = [("largest_battery_a", Value::Number(a)), ("parallel", number(parallel))];
            self.ledger.note(&BANK_CRANKING, &inputs, a * f64::from(parallel))
        });
        let jumpers = (series - 1) * parallel + 2 * (parallel - 1);
        let jumpers_basis = self.ledger.note(
            &BANK_JUMPERS,
            &[("series", number(series)), ("parallel", number(parallel))],
            f64::from(jumpers),
        );
        let mut nth = 0;
        let rating_a = self.largest_fuse_a(place);
        let mut join = |sources: &mut Self, role, colour, from, to| {
            nth += 1;
            sources.jumper(place, format!("B{}J{nth}", place + 1), (role, colour, from, to), (feed, rating_a), owner)
        };
        for _ in 0..parallel {
            for _ in 1..series {
                let ends = (LandsOn::BatteryNegative, LandsOn::BatteryPositive);
                join(self, ConductorRole::SeriesJumper, FEEDER_COLOUR, ends.0, ends.1);
            }
        }
        // One link ends at either post that the rest of the bank's cables land on.
        let mut links = [None, None];
        for _ in 1..parallel {
            let (positive, negative) = (LandsOn::BatteryPositive, LandsOn::BatteryNegative);
            let there = join(self, ConductorRole::ParallelLink, FEEDER_COLOUR, positive, positive);
            let back = join(self, ConductorRole::ParallelLink, negative_colour(facts.boat), negative, negative);
            links = [there.as_ref().map(Made::terminal), back.as_ref().map(Made::terminal)];
        }
        let batteries = BankBatteries {
            series: bank.series,
            parallel: bank.parallel,
            capacity_ah: rounded(capacity_ah, 3),
            capacity_basis,
            cold_cranking_a: cold_cranking_a.map(|a| rounded(a, 3)),
            cranking_basis,
            jumpers,
            jumpers_basis,
        };
        Some((batteries, links))
    }

    fn jumper(
        &mut self,
        place: usize,
        label: String,
        (role, colour, from, to): (ConductorRole, &'static str, LandsOn, LandsOn),
        (feed, rating_a): (Option<WireSize>, f64),
        owner: &Name,
    ) -> Option<Made> {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        let station = facts.boat.banks[place].station;
        let end = |lands_on| LegEnd { station, lands_on, stud: Some(battery_stud()) };
        let made = self.cable(
            Cable {
                bank: place,
                role,
                label,
                colour,
                current_a: side.through.between_batteries_a(side.load.current_a),
                route: here(station),
                from: end(from),
                to: end(to),
                ratings: (standard_ratings(), "standard"),
                least_rating_a: rating_a,
                continuous: false,
                at_least: feed,
                limit_v: f64::INFINITY,
            },
            owner,
        );
        // Posts within a string are ungrounded at both ends of a jumper (33 CFR 183.420(b)).
        if let Some(made) = made.as_ref().filter(|_| colour == FEEDER_COLOUR) {
            self.part(Part::Boot(made.size, FEEDER_COLOUR), 2, owner);
        }
        made
    }
}
