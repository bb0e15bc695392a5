//! Copper areas and diameters.

use rigbill::calc::rules::sizes::{all, area_cmil, area_mm2, overall_diameter};
use rigbill::calc::rules::terminations::{barrel_diameter, shrink_sizes, smallest_shrink};
use rigbill::calc::units::{AreaStandard, Length, WireSize};

use super::{near, rows};

/// ASTM B258: the diameter of gauge n is 0.005 in × 92^((36 − n) / 39); a circular mil is the square of a mil.
fn b258_cmil(n: i8) -> f64 {
    (5.0 * 92f64.powf((36.0 - f64::from(n)) / 39.0)).powi(2)
}

#[test]
fn every_gauge_has_the_area_of_astm_b258() {
    assert_eq!(all(AreaStandard::Awg).len(), 15);
    for &size in all(AreaStandard::Awg) {
        let by_formula = b258_cmil(size.awg().unwrap());
        let area = area_cmil(size, AreaStandard::Awg).unwrap();
        // NEC Table 8 rounds to three or four figures: 18 AWG is the worst, 0.26 % off.
        near(area / by_formula, 1.0, 0.0027, &size.to_string());
    }
    assert_eq!(area_cmil(WireSize::Awg(-3), AreaStandard::Awg), Some(211_600.0), "4/0 is 460 mils by definition");
}

#[test]
fn every_gauge_has_its_published_area() {
    let published = rows(include_str!("data/awg_areas.csv"));
    assert_eq!(published.len(), 15);
    for row in &published {
        let size = row.gauge("awg");
        assert_eq!(area_cmil(size, AreaStandard::Awg), Some(row.number("nec_cmil")), "{size}");
        assert_eq!(area_cmil(size, AreaStandard::Sae), row.text("sae_cmil").parse().ok(), "{size} by SAE");
        let mm = row.number("solid_mm");
        let mm2 = std::f64::consts::PI / 4.0 * mm * mm;
        near(area_mm2(size, AreaStandard::Awg).unwrap() / mm2, 1.0, 0.0027, &format!("{size} in mm2"));
    }
}

#[test]
fn sae_cable_has_one_to_eleven_percent_less_copper_and_no_3_awg() {
    assert_eq!(all(AreaStandard::Sae).len(), 14);
    for &size in all(AreaStandard::Sae) {
        let share = area_cmil(size, AreaStandard::Sae).unwrap() / area_cmil(size, AreaStandard::Awg).unwrap();
        assert!((0.89..0.99).contains(&share), "{size}: {share}");
    }
    assert_eq!(area_cmil(WireSize::Awg(3), AreaStandard::Sae), None);
}

#[test]
fn a_metric_size_has_the_area_it_is_called_by() {
    for &size in all(AreaStandard::Metric) {
        let WireSize::Metric(hundredths) = size else { panic!("{size} is not metric") };
        let mm2 = f64::from(hundredths) / 100.0;
        assert_eq!(area_mm2(size, AreaStandard::Metric), Some(mm2));
        // A circular mil is π/4 of a thousandth of an inch squared, and an inch is 25.4 mm.
        let cmil = mm2 / (std::f64::consts::PI / 4.0 * 0.0254 * 0.0254);
        near(area_cmil(size, AreaStandard::Metric).unwrap() / cmil, 1.0, 1e-9, &size.to_string());
    }
}

#[test]
fn a_makers_lead_of_an_untabled_gauge_has_the_area_of_the_formula() {
    for n in [22, 20, 17, 5] {
        near(area_cmil(WireSize::Awg(n), AreaStandard::Awg).unwrap() / b258_cmil(n), 1.0, 1e-12, "untabled gauge");
    }
    assert_eq!(area_cmil(WireSize::Awg(23), AreaStandard::Awg), None);
}

#[test]
fn sizes_rise_in_copper_and_in_diameter() {
    for standard in [AreaStandard::Awg, AreaStandard::Sae, AreaStandard::Metric] {
        for pair in all(standard).windows(2) {
            assert!(area_cmil(pair[0], standard) < area_cmil(pair[1], standard), "{} {}", pair[0], pair[1]);
            assert!(overall_diameter(pair[0]) <= overall_diameter(pair[1]), "{} {}", pair[0], pair[1]);
            assert!(barrel_diameter(pair[0]) <= barrel_diameter(pair[1]), "{} {}", pair[0], pair[1]);
        }
        for &size in all(standard) {
            let copper_mm = (area_mm2(size, standard).unwrap() * 4.0 / std::f64::consts::PI).sqrt();
            assert!(overall_diameter(size).m() * 1000.0 > copper_mm, "{size}: the cable is thicker than its copper");
            assert!(barrel_diameter(size).m() * 1000.0 > copper_mm, "{size}: the barrel goes round its copper");
        }
    }
}

/// Diameters of boat cable from memory and the fit rule from common practice: the tubing over the cable's insulation.
#[test]
fn tubing_fits_the_cable_it_is_chosen_for() {
    let smallest = [
        (18, 0.125),
        (16, 0.187),
        (14, 0.187),
        (12, 0.25),
        (10, 0.25),
        (8, 0.375),
        (6, 0.5),
        (4, 0.5),
        (2, 0.75),
        (1, 0.75),
        (0, 0.75),
        (-1, 1.0),
        (-2, 1.0),
        (-3, 1.0),
    ];
    for (n, supplied_in) in smallest {
        let over = overall_diameter(WireSize::Awg(n));
        assert_eq!(smallest_shrink(over, over).unwrap().supplied, Length::inches(supplied_in), "{n} AWG");
    }
}

#[test]
fn tubing_that_cannot_do_both_is_not_chosen() {
    let largest = shrink_sizes().last().unwrap();
    assert_eq!(smallest_shrink(Length::inches(1.3), Length::inches(1.0)), None, "thicker than the largest takes");
    assert_eq!(smallest_shrink(largest.supplied.scaled(0.8), largest.recovered), None, "it would not shrink tight");
    assert_eq!(smallest_shrink(largest.supplied.scaled(0.8), Length::inches(0.51)), Some(largest));
    for size in shrink_sizes() {
        // 3 to 1 tubing: AMS-DTL-23053/4, from memory.
        near(size.supplied.inch() / size.recovered.inch(), 3.0, 0.03, "shrink ratio");
    }
}
