//! Places of the parts on two rulers: across from the centre line, in height from the lower edge.

use super::{Anchor, SIDE, Sheet, Svg, WIDTH, on_a_rule, outline};
use calc::units::LengthValue;

/// A place on a ruler.
struct Tick {
    /// Where it is, pixels.
    at: f64,
    /// Where its text stands along the ruler, pixels.
    label: f64,
    /// What it says.
    text: String,
    /// Where the line to its parts ends.
    until: f64,
}

/// Both rulers of a sheet.
pub(super) struct Rulers {
    across: Vec<Tick>,
    heights: Vec<Tick>,
    /// Height of the lower ruler, and place of the left one, pixels.
    lower: f64,
    left: f64,
    centre: f64,
    zero: f64,
    /// Where what comes below them begins, pixels.
    pub(super) below: f64,
}

/// Room from the face to a ruler, and from a ruler to its text, pixels.
const AIR: f64 = 26.0;
const LEADER: f64 = 18.0;

impl Sheet<'_> {
    pub(super) fn rulers(&self) -> Rulers {
        let mut across: Vec<Tick> = Vec::new();
        let mut heights: Vec<Tick> = Vec::new();
        for part in &self.dash.parts {
            let Some(centre) = &part.centre else { continue };
            let (x, y) = self.at(centre);
            let (wide, tall) = outline(part);
            let (below, beside) = (y + tall * self.scale / 2.0, x - wide * self.scale / 2.0);
            add(&mut across, x, centre.from_centre, below, f64::min);
            add(&mut heights, y, centre.from_lower_edge, beside, f64::max);
        }
        across.sort_by(|a, b| a.at.total_cmp(&b.at));
        heights.sort_by(|a, b| a.at.total_cmp(&b.at));
        let (widest, lower) = (66.0, self.bottom + AIR);
        apart(&mut across, widest, (widest / 2.0, WIDTH - widest / 2.0));
        apart(&mut heights, 15.0, (self.top - 10.0, self.bottom + 8.0));
        Rulers {
            across,
            heights,
            lower,
            left: (self.left - AIR).max(SIDE - AIR),
            centre: self.centre,
            zero: self.zero,
            below: lower + LEADER + 44.0,
        }
    }
}

/// Adds a place, once; the line to it reaches the furthest of its parts.
fn add(ticks: &mut Vec<Tick>, at: f64, length: LengthValue, until: f64, further: fn(f64, f64) -> f64) {
    match ticks.iter_mut().find(|tick| (tick.at - at).abs() < 0.05) {
        Some(tick) => tick.until = further(tick.until, until),
        None => ticks.push(Tick { at, label: at, text: on_a_rule(length), until }),
    }
}

/// Moves texts apart that would stand on one another, and keeps them between two bounds.
fn apart(ticks: &mut [Tick], room: f64, (least, most): (f64, f64)) {
    let count = ticks.len();
    // Groups of texts that touch are centred on the middle of their places.
    let mut groups: Vec<(usize, usize)> = Vec::new();
    for i in 0..count {
        groups.push((i, i + 1));
        while let [.., before, last] = groups[..] {
            let span = |(from, to): (usize, usize)| {
                let middle = ticks[from..to].iter().map(|tick| tick.at).sum::<f64>() / (to - from) as f64;
                let half = room * (to - from) as f64 / 2.0;
                (middle - half, middle + half)
            };
            if span(before).1 <= span(last).0 {
                break;
            }
            groups.pop();
            groups.pop();
            groups.push((before.0, last.1));
        }
    }
    for (from, to) in groups {
        let middle = ticks[from..to].iter().map(|tick| tick.at).sum::<f64>() / (to - from) as f64;
        for (n, tick) in ticks[from..to].iter_mut().enumerate() {
            tick.label = middle + room * (n as f64 + 0.5 - (to - from) as f64 / 2.0);
        }
    }
    let mut floor = least;
    for tick in ticks.iter_mut() {
        tick.label = tick.label.max(floor);
        floor = tick.label + room;
    }
    let mut ceiling = most;
    for tick in ticks.iter_mut().rev() {
        tick.label = tick.label.min(ceiling);
        ceiling = tick.label - room;
    }
}

impl Rulers {
    /// Thin lines from the rulers to what they measure; drawn below the parts.
    pub(super) fn extensions(&self, svg: &mut Svg) {
        for tick in &self.across {
            svg.line("extension", &[(tick.at, tick.until), (tick.at, self.lower)], false);
        }
        for tick in &self.heights {
            svg.line("extension", &[(tick.until, tick.at), (self.left, tick.at)], false);
        }
    }

    pub(super) fn draw(&self, svg: &mut Svg) {
        if let (Some(first), Some(last)) = (self.across.first(), self.across.last()) {
            let (from, to) = (first.at.min(self.centre), last.at.max(self.centre));
            svg.line("ruler", &[(from, self.lower), (to, self.lower)], false);
            svg.line("ruler", &[(self.centre, self.lower - 8.0), (self.centre, self.lower + 8.0)], false);
        }
        for tick in &self.across {
            let foot = self.lower + LEADER;
            svg.line("ruler", &[(tick.at, self.lower - 4.0), (tick.at, self.lower + 4.0)], false);
            svg.line("extension", &[(tick.at, self.lower + 4.0), (tick.label, foot)], false);
            svg.text("small", (tick.label, foot + 12.0), Anchor::Middle, &tick.text);
        }
        if let Some(first) = self.heights.first() {
            svg.line("ruler", &[(self.left, first.at), (self.left, self.zero)], false);
            svg.line("ruler", &[(self.left - 8.0, self.zero), (self.left + 8.0, self.zero)], false);
        }
        for tick in &self.heights {
            let foot = self.left - LEADER;
            svg.line("ruler", &[(self.left - 4.0, tick.at), (self.left + 4.0, tick.at)], false);
            svg.line("extension", &[(self.left - 4.0, tick.at), (foot, tick.label)], false);
            svg.text("small", (foot - 3.0, tick.label + 4.0), Anchor::End, &tick.text);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_of_near_places_stand_apart_in_their_order_and_on_the_sheet() {
        let places = [40.0, 41.0, 300.0, 310.0, 320.0, 900.0, 1190.0, 1195.0];
        let tick = |at: f64| Tick { at, label: at, text: String::new(), until: 0.0 };
        let mut ticks: Vec<Tick> = places.into_iter().map(tick).collect();
        apart(&mut ticks, 66.0, (33.0, 1167.0));
        for pair in ticks.windows(2) {
            assert!(pair[1].label - pair[0].label >= 66.0 - 1e-9);
        }
        assert!(ticks[0].label >= 33.0 && ticks[7].label <= 1167.0);
        assert!((ticks[5].label - 900.0).abs() < 1e-9, "one by itself stands where it belongs");
    }
}
