//! The key below the boat: what lines and marks mean, how long the routes are, and a scale.

use super::{Sheet, WIDTH, access_class};
use crate::svg::{Anchor, Svg};
use calc::spec::input::Access;
use calc::units::LengthUnit;

impl Sheet<'_> {
    /// What the lines and marks mean, how long the routes are, and a scale.
    pub(super) fn key(&self, svg: &mut Svg, top: f64) {
        let (first, second, third) = (top + 26.0, top + 50.0, top + 74.0);
        let mut x = 24.0;
        for (access, what) in [
            (Access::Open, "open"),
            (Access::Tube, "tube"),
            (Access::Gunwale, "gunwale or liner"),
            (Access::Blind, "blind"),
        ] {
            svg.line(access_class(access), &[(x, first - 4.0), (x + 44.0, first - 4.0)], false);
            svg.text("small", (x + 52.0, first), Anchor::Start, what);
            x += 74.0 + what.len() as f64 * 6.5;
        }
        for (class, what) in [
            ("station vapour-no", "no petrol vapour"),
            ("station vapour-unknown", "petrol vapour not known"),
            ("station vapour-yes", "petrol vapour"),
        ] {
            svg.circle(class, (x + 6.0, first - 4.0), 5.5);
            svg.text("small", (x + 18.0, first), Anchor::Start, what);
            x += 40.0 + what.len() as f64 * 6.5;
        }
        self.scale_bar(svg, first);
        let mut told = Vec::new();
        for route in self.plan.routes {
            let name = |place: Option<&usize>| place.map_or("", |place| self.plan.stations[*place].name.as_str());
            let length = route.length().written(self.plan.unit);
            told.push(format!("{} to {}: {length}", name(route.stations.first()), name(route.stations.last())));
        }
        if !told.is_empty() {
            svg.line("route", &[(24.0, second - 4.0), (68.0, second - 4.0)], false);
            svg.text("small", (76.0, second), Anchor::Start, &shortened(&told.join("; "), 170));
        }
        let unplaced: Vec<&str> =
            self.plan.stations.iter().filter(|s| s.position.is_none()).map(|s| s.name.as_str()).collect();
        if !unplaced.is_empty() {
            let text = format!("Not drawn, since nobody has said where: {}", unplaced.join(", "));
            svg.text("small", (24.0, third), Anchor::Start, &shortened(&text, 180));
        }
    }

    fn scale_bar(&self, svg: &mut Svg, y: f64) {
        let metric = matches!(self.plan.unit, LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M);
        let unit = if metric { LengthUnit::M } else { LengthUnit::Ft };
        let unit_m = unit.nanometres() as f64 / 1e9;
        let pixels = |count: f64| count * unit_m * self.scale;
        let count = [1.0, 2.0, 5.0, 10.0].into_iter().rfind(|count| pixels(*count) <= 190.0).unwrap_or(1.0);
        let (right, left) = (WIDTH - 60.0, WIDTH - 60.0 - pixels(count));
        svg.line("leader", &[(left, y - 10.0), (left, y - 4.0), (right, y - 4.0), (right, y - 10.0)], false);
        svg.text("small", (right + 6.0, y), Anchor::Start, &format!("{count} {}", unit.symbol()));
    }
}

fn shortened(text: &str, longest: usize) -> String {
    if text.chars().count() <= longest {
        return text.to_owned();
    }
    text.chars().take(longest - 1).chain(['…']).collect()
}
