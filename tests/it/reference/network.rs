//! The data network's tables and worked examples against what was published.

use rigbill::calc::rules::network::{cable, limits, voltage_drop_v};
use rigbill::calc::shop::item::NetworkClass;
use rigbill::calc::units::within;

use super::{near, rows};
use crate::reevaluate::network::published;

#[test]
fn the_tables_are_those_that_were_published() {
    for class in [NetworkClass::Light, NetworkClass::Mid, NetworkClass::Heavy] {
        let of = |figure: &str| published(&format!("{}_{figure}", class.word()));
        let found = cable(class);
        near(found.current_a_max, of("a"), 0.0, "current");
        near(found.backbone_m_max, of("backbone_m"), 0.0, "backbone");
        near(found.ohm_per_m, of("ohm_per_m"), 0.0, "resistance");
    }
    let found = limits();
    near(found.current_of_len_a, published("len_a"), 0.0, "load equivalency");
    near(f64::from(found.devices_max), published("devices"), 0.0, "devices");
    near(found.drop_max.m(), published("drop_m"), 0.0, "drop");
    near(found.drops_max.m(), published("drops_m"), 0.0, "drops");
    near(f64::from(found.terminators), published("terminators"), 0.0, "terminators");
    near(found.voltage_drop_v_max, published("voltage_v"), 0.0, "voltage");
}

#[test]
fn worked_examples_come_out_as_printed() {
    for row in rows(include_str!("data/worked_network.csv")) {
        let (inputs, expected) = (row.nested("inputs"), row.nested("expected"));
        match row.text("kind") {
            "drops" => {
                near(limits().drops_max.m(), expected.number("limit_m"), 0.0, "limit of all drops");
                let ok = within(inputs.number("cumulative_drop_m"), limits().drops_max.m())
                    && within(inputs.number("longest_drop_m"), limits().drop_max.m());
                assert_eq!(ok.to_string(), expected.text("ok"));
            }
            "voltage" => {
                let len = inputs.number("len") as u32;
                let lost_v = voltage_drop_v(len, inputs.number("metres"), inputs.number("ohm_per_m"));
                near(lost_v, expected.number("drop_v"), 0.001, "voltage lost");
                near(inputs.number("ohm_per_m"), cable(NetworkClass::Light).ohm_per_m, 0.0, "light cable");
                near(inputs.number("limit_v"), limits().voltage_drop_v_max, 0.0, "limit");
                assert_eq!(within(lost_v, limits().voltage_drop_v_max).to_string(), expected.text("end_feed_ok"));
            }
            other => panic!("no such example: {other}"),
        }
    }
}
