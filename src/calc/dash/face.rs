//! The face of a dash: where a part of a given size may stand, and how much room is left around it there.

/// A point in whole nanometres, from the centre line (starboard positive) and from the lower edge.
pub type Point = (i64, i64);

/// What a part must keep clear of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Area {
    /// A rectangle by its lower left and upper right corner.
    Rectangle(Point, Point),
    /// A circle by its middle and radius.
    Round(Point, i64),
}

/// A dash as it is seen from the helm.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Face {
    /// Its corners in turn; the way round does not matter.
    pub corners: Vec<Point>,
    /// What is kept clear.
    pub keep_outs: Vec<Area>,
}

/// What is nearest to a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Neighbour {
    /// The edge between a corner and the next.
    Edge(usize),
    /// A place in the list of keep-outs.
    KeepOut(usize),
}

impl Face {
    /// The smallest upright rectangle round it: lower left and upper right corner.
    pub fn bounds(&self) -> (Point, Point) {
        let least = |of: fn(&Point) -> i64| self.corners.iter().map(of).min().unwrap_or(0);
        let most = |of: fn(&Point) -> i64| self.corners.iter().map(of).max().unwrap_or(0);
        ((least(|p| p.0), least(|p| p.1)), (most(|p| p.0), most(|p| p.1)))
    }

    /// Whether nothing but an upright rectangle bounds it and nothing on it is kept clear.
    pub fn is_plain(&self) -> bool {
        self.keep_outs.is_empty() && self.is_rectangle()
    }

    /// Whether its edge is an upright rectangle.
    pub fn is_rectangle(&self) -> bool {
        let ((left, bottom), (right, top)) = self.bounds();
        let at_corner = |(x, y): &Point| (*x == left || *x == right) && (*y == bottom || *y == top);
        let turns = |i: usize| {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % self.corners.len()]);
            (a.0 == b.0) != (a.1 == b.1)
        };
        self.corners.len() == 4 && self.corners.iter().all(at_corner) && (0..4).all(turns)
    }

    /// How far the box of a part may grow on all four sides until it meets an edge or a keep-out: negative where it
    /// meets one already. Whole nanometres, rounded down.
    pub fn clearance(&self, at: Point, half: Point) -> i64 {
        self.nearest(at, half).0
    }

    /// The same, with what is met first.
    pub fn nearest(&self, at: Point, half: Point) -> (i64, Neighbour) {
        if !self.holds(at) {
            return (-1, Neighbour::Edge(0));
        }
        let count = self.corners.len();
        let edges = (0..count)
            .map(|i| (to_segment(at, half, self.corners[i], self.corners[(i + 1) % count]), Neighbour::Edge(i)));
        let areas =
            self.keep_outs.iter().enumerate().map(|(i, area)| (to_area(at, half, *area), Neighbour::KeepOut(i)));
        edges.chain(areas).min_by_key(|(gap, _)| *gap).unwrap_or((-1, Neighbour::Edge(0)))
    }

    /// Whether a point lies within the edge.
    fn holds(&self, (x, y): Point) -> bool {
        let mut inside = false;
        for (i, &a) in self.corners.iter().enumerate() {
            let b = self.corners[(i + 1) % self.corners.len()];
            if (a.1 > y) == (b.1 > y) {
                continue;
            }
            // Whether the edge passes to the right of the point, without dividing.
            let turn = i128::from(b.0 - a.0) * i128::from(y - a.1) - i128::from(x - a.0) * i128::from(b.1 - a.1);
            if (turn > 0) == (b.1 > a.1) {
                inside = !inside;
            }
        }
        inside
    }
}

/// The gap between two boxes along the axis on which they are further apart; negative where they overlap.
pub fn between(a: Point, half_a: Point, b: Point, half_b: Point) -> i64 {
    let across = (a.0 - b.0).abs() - half_a.0 - half_b.0;
    let along = (a.1 - b.1).abs() - half_a.1 - half_b.1;
    across.max(along)
}

/// How far a box may grow until it meets an area.
pub fn to_area(at: Point, half: Point, area: Area) -> i64 {
    match area {
        Area::Rectangle(low, high) => {
            let across = (low.0 - at.0 - half.0).max(at.0 - half.0 - high.0);
            let along = (low.1 - at.1 - half.1).max(at.1 - half.1 - high.1);
            across.max(along)
        }
        Area::Round(middle, radius) => {
            let (across, along) = ((at.0 - middle.0).abs() - half.0, (at.1 - middle.1).abs() - half.1);
            let (near, far) = (across.min(along), across.max(along));
            // Growing by all of the nearer gap brings the box beside the middle: the circle is met on its axis then.
            if far - near >= radius {
                return far - radius;
            }
            // Otherwise its corner meets the circle: (across - gap)² + (along - gap)² = radius².
            let (a, b, r) = (across as f64, along as f64, radius as f64);
            let root = (2.0 * r * r - (a - b) * (a - b)).max(0.0).sqrt();
            ((a + b - root) / 2.0 + ROUNDING).floor() as i64
        }
    }
}

/// What a double may be off by at a gap of a few metres, nanometres.
const ROUNDING: f64 = 1e-6;

/// How far a box may grow until it meets a segment; negative where they meet already.
fn to_segment(at: Point, half: Point, a: Point, b: Point) -> i64 {
    let across = |x: i64| (x - at.0).abs() - half.0;
    let along = |y: i64| (y - at.1).abs() - half.1;
    let reach = |from: i64, to: i64, at: i64| {
        if (from.min(to)..=from.max(to)).contains(&at) {
            at
        } else if (from - at).abs() < (to - at).abs() {
            from
        } else {
            to
        }
    };
    if a.0 == b.0 {
        return across(a.0).max(along(reach(a.1, b.1, at.1)));
    }
    if a.1 == b.1 {
        return along(a.1).max(across(reach(a.0, b.0, at.0)));
    }
    // The gap at a share of the way along is the most of four straight lines; the least of it is at an end, or where
    // two of them cross.
    let (dx, dy) = ((b.0 - a.0) as f64, (b.1 - a.1) as f64);
    let (x, y) = ((a.0 - at.0) as f64, (a.1 - at.1) as f64);
    let (w, h) = (half.0 as f64, half.1 as f64);
    let lines = [(x - w, dx), (-x - w, -dx), (y - h, dy), (-y - h, -dy)];
    let gap = |t: f64| lines.iter().map(|(start, slope)| start + slope * t).fold(f64::NEG_INFINITY, f64::max);
    let mut least = gap(0.0).min(gap(1.0));
    for (i, one) in lines.iter().enumerate() {
        for other in &lines[i + 1..] {
            let t = (other.0 - one.0) / (one.1 - other.1);
            if t > 0.0 && t < 1.0 {
                least = least.min(gap(t));
            }
        }
    }
    (least + ROUNDING).floor() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square metre with its upper right corner cut off at 45°.
    fn chamfered() -> Face {
        let corners = vec![(-500, 0), (500, 0), (500, 600), (100, 1000), (-500, 1000)];
        Face { corners, keep_outs: Vec::new() }
    }

    #[test]
    fn a_box_grows_until_its_corner_meets_the_slant() {
        // The slant is x + y = 1100; the corner of the box is at (100 + g, 500 + g).
        assert_eq!(chamfered().nearest((0, 400), (100, 100)), (250, Neighbour::Edge(2)));
        assert_eq!(chamfered().clearance((0, 100), (100, 100)), 0);
        assert_eq!(chamfered().clearance((450, 900), (10, 10)), -1);
        assert!(!chamfered().is_rectangle());
    }

    #[test]
    fn a_box_grows_until_it_meets_a_circle() {
        let round = Area::Round((0, 0), 100);
        // Beside it: 300 - 50 - 100.
        assert_eq!(to_area((300, 0), (50, 50), round), 150);
        // Over the corner: the corner of the box at 3, 4 times 50 is 250 from the middle; it meets the circle on the way in.
        let gap = to_area((200, 250), (50, 50), round);
        let corner = |gap: i64| (150.0 - gap as f64).hypot(200.0 - gap as f64);
        assert!(corner(gap) >= 100.0 && corner(gap + 1) < 100.0, "{gap}");
    }
}
