//! Whether hose, fittings, fasteners and what a pump asks of the plumbing make sense.

use crate::calc::rules::plumbing::pump_kind;
use crate::calc::shop::item::{Attributes, DevicePlumbing, Fitting, Function};
use crate::service::checks::Checks;

/// What a pump asks of the plumbing.
pub(super) fn plumbing(plumbing: &DevicePlumbing, function: Function, checks: &mut Checks) {
    let at = |name: &str| format!("/attributes/plumbing/{name}");
    let DevicePlumbing { inlet, outlet, pipe_thread, on_seacock: _, pump_kind: kind } = plumbing;
    for (name, bore) in [("inlet", inlet), ("outlet", outlet), ("pipe_thread", pipe_thread)] {
        if let Some(bore) = bore {
            checks.length(at(name), *bore, false);
        }
    }
    checks.must(kind.or_else(|| pump_kind(function)).is_some(), "/attributes/plumbing", || {
        format!("'{}' is no raw-water pump by its function: say its pump_kind, or leave plumbing out", function.word())
    });
}

/// The attributes of a part of the fit-out.
pub(super) fn attributes(attributes: &Attributes, checks: &mut Checks) {
    let at = |name: &str| format!("/attributes/{name}");
    match attributes {
        Attributes::Hose { inside_diameter, .. } | Attributes::Loom { inside_diameter } => {
            checks.length(at("inside_diameter"), *inside_diameter, false);
        }
        Attributes::PlumbingFitting { fitting, nominal_size, pipe_thread, ways } => {
            checks.length(at("nominal_size"), *nominal_size, false);
            if let Some(pipe_thread) = pipe_thread {
                checks.length(at("pipe_thread"), *pipe_thread, false);
            }
            if let Some(ways) = ways {
                checks.whole(at("ways"), u64::from(*ways), 2, 12);
            }
            checks.must(*fitting != Fitting::Manifold || ways.is_some(), at("ways"), || {
                "a manifold needs its number of outlets: expected from 2 to 12".to_owned()
            });
            checks.must(*fitting != Fitting::HoseAdapter || pipe_thread.is_some(), at("pipe_thread"), || {
                "an adapter needs its pipe thread: expected a length such as 0.5 in".to_owned()
            });
        }
        Attributes::Fastener { diameter_from, diameter_to, .. } => {
            checks.length(at("diameter_from"), *diameter_from, true);
            checks.length(at("diameter_to"), *diameter_to, false);
            let rising = diameter_from.length() <= diameter_to.length();
            checks.must(rising, at("diameter_from"), || {
                format!("the smallest diameter ({diameter_from}) is larger than the largest ({diameter_to}): the other way round?")
            });
        }
        Attributes::BatteryHardware { group: Some(group), .. } => checks.text(at("group"), group, 20),
        _ => {}
    }
}
