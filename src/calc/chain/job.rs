//! What is done once or a few times for the whole job: survey and strip-out of a re-rig, launch and haul-out, sea trial and
//! papers. The spec says how often, or else it follows from the kind of job (common practice).

use crate::shop::item::Function;
use crate::shop::labour::{Driver, LabourOperation};
use crate::spec::boat::Boat;
use crate::spec::input::JobType;
use crate::take_off::Circuit;

/// How often each is done.
pub(super) struct JobCounts {
    surveys: u32,
    old_circuits: u32,
    sea_trials: u32,
    hauls_and_launches: u32,
    holes: u32,
    papers: u32,
}

impl JobCounts {
    /// Of a boat, the circuits that got a size and the holes that are made below the waterline.
    pub(super) fn of(boat: &Boat, circuits: &[Circuit], holes: u32) -> Self {
        let re_rig = boat.job_type == JobType::ReRig;
        let wired = u32::try_from(circuits.len()).unwrap_or(u32::MAX);
        // Sounder and compass are only proven under way; a bare hull goes on to its builder.
        let electronics = circuits.iter().any(|circuit| circuit.function == Function::NavigationElectronics);
        let trial = boat.work.sea_trial.unwrap_or(electronics && boat.job_type != JobType::BareHull);
        let old_circuits = boat.work.old_circuits.map_or(wired, u32::from);
        JobCounts {
            surveys: u32::from(re_rig),
            old_circuits: if re_rig { old_circuits } else { 0 },
            sea_trials: u32::from(trial),
            // A hole below the waterline is made ashore; a bare hull is there already.
            hauls_and_launches: boat.work.hauls_and_launches.map_or_else(
                || if trial || (holes > 0 && boat.job_type != JobType::BareHull) { 2 } else { 0 },
                u32::from,
            ),
            holes,
            papers: u32::from(wired > 0),
        }
    }

    /// The same by driver.
    pub(super) fn by_driver(&self) -> [(Driver, u32); 5] {
        [
            (Driver::ReRig, self.surveys),
            (Driver::OldCircuit, self.old_circuits),
            (Driver::SeaTrial, self.sea_trials),
            (Driver::HaulOrLaunch, self.hauls_and_launches),
            (Driver::Job, self.papers),
        ]
    }

    /// What was taken as given where the spec does not say it and the shop's table counts it.
    pub(super) fn assumptions(&self, boat: &Boat, operations: &[LabourOperation]) -> Vec<String> {
        let counted = |driver| operations.iter().any(|operation| operation.driver == driver);
        let mut told = Vec::new();
        if boat.work.old_circuits.is_none() && self.old_circuits > 0 && counted(Driver::OldCircuit) {
            told.push(format!(
                "Old circuits to strip out: {}, one for each new circuit, since the spec does not say how many.",
                self.old_circuits
            ));
        }
        if boat.work.sea_trial.is_none() && self.sea_trials > 0 && counted(Driver::SeaTrial) {
            told.push("A sea trial is made, since electronics are fitted that are only proven under way.".to_owned());
        }
        if boat.work.hauls_and_launches.is_none() && self.hauls_and_launches > 0 && counted(Driver::HaulOrLaunch) {
            let why = match (self.sea_trials > 0, self.holes > 0) {
                (true, false) => "its sea trial",
                (false, _) => "the holes below its waterline",
                (true, true) => "its sea trial and the holes below its waterline",
            };
            told.push(format!("The boat is launched once and hauled once for {why}."));
        }
        told
    }
}
