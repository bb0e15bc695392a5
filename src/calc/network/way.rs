//! The way of a cable that is not cut: how long it must be, and what it goes through.

use crate::basis::{BasisRef, Ledger};
use crate::routes::Routes;
use crate::rules::network::reach;
use crate::rules::table::network::REACH;
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::spec::input::LengthSource;
use crate::units::{Length, LengthValue, Name};

/// The way of one cable.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Way {
    /// Places of its runs.
    pub runs: Vec<usize>,
    /// Places of its stations, both ends included.
    pub stations: Vec<usize>,
    /// Length on measured runs, with the rises at its ends.
    pub measured: Length,
    /// Length on estimated runs.
    pub estimated: Length,
    /// Slack at its ends.
    pub slack: Length,
    /// How long the cable must be.
    pub needed: Length,
}

/// A length of the settings.
pub fn exact(value: LengthValue) -> Length {
    value.length().unwrap_or_default()
}

impl Way {
    /// The way along the route between two stations, with what rises to where things are mounted, and slack.
    pub fn along(
        routes: &mut Routes,
        (from, to): (usize, usize),
        rises: Length,
        slack: Length,
        settings: &Settings,
    ) -> Option<Way> {
        let route = routes.route(from, to)?;
        let measured = route.measured + rises;
        let waste = (settings.waste_measured_percent, settings.waste_estimated_percent);
        let needed = reach(measured, route.estimated, waste, slack);
        Some(Way { runs: route.runs, stations: route.stations, measured, estimated: route.estimated, slack, needed })
    }

    /// Whether all of it was measured.
    pub fn length_source(&self) -> LengthSource {
        if self.estimated > Length::ZERO { LengthSource::Estimated } else { LengthSource::Measured }
    }

    /// Identifiers of its stations.
    pub fn route(&self, boat: &Boat) -> Vec<Name> {
        self.stations.iter().map(|station| boat.stations[*station].id.clone()).collect()
    }

    /// Notes why it needs as much cable.
    pub fn note(&self, settings: &Settings, ledger: &mut Ledger) -> BasisRef {
        let inputs = [
            ("measured_m", self.measured.m().into()),
            ("waste_measured_percent", settings.waste_measured_percent.into()),
            ("estimated_m", self.estimated.m().into()),
            ("waste_estimated_percent", settings.waste_estimated_percent.into()),
            ("slack_m", self.slack.m().into()),
        ];
        ledger.note(&REACH, &inputs, self.needed.m())
    }
}
