//! Where the parts of a dash go: displays, keypads, stereo, gauges, panels on a face of a given shape.
//!
//! What is best, in this order: all fit; the fewest symmetries about the centre line are broken; the least clearance is
//! as large as it can be; the parts are as near to eye height as they can be, each weighed by its area.
//!
//! 1. `face`: how much room is left around a box on the face. Parts count as the box round their outline, and a gap is
//!    measured across or along the height, whichever is more: what a rule laid on the dash shows, never more than the
//!    true distance.
//! 2. `task`: what is to be placed, and how a layout is judged. Middles stand on a grid, so that all is reckoned in
//!    whole numbers; what is proven is proven for that grid.
//! 3. `structures`: which parts mirror each other, which stand on the centre line, and which are left free.
//! 4. `tree`: for one structure and one wanted clearance, all ways in which every two parts can stand to each other.
//! 5. `search`: fewer broken symmetries first; then the clearance climbs until no structure has more; then eye height.
//! 6. `spread`: what room is left across is shared out evenly, which changes none of the four.
//! 7. `layout` tells it: places, gaps, depths; `openings` what is cut and what becomes of old openings; `mends` what would
//!    make everything fit where it does not. `question` is one dash by itself.
//!
//! The search is bounded by steps of work, never by time, and says of each of the four how far it is proven.

pub mod boat;
mod domain;
mod face;
pub mod findings;
mod layout;
mod mends;
mod openings;
pub mod question;
mod rise;
mod search;
mod spread;
mod task;
mod tree;

pub use face::{Area, Face, Neighbour, Point, between, to_area};
pub use layout::{Asked, AskedPart, layout, unit_of};
pub use search::{Layout, NoLayout, Proven, fits, solve};
pub use task::{Merit, Part, Task};

/// Steps of work that are left: a step narrows the ranges of all parts once.
#[derive(Clone, Copy, Debug)]
pub struct Work {
    left: u64,
    spent: u64,
}

impl Work {
    /// So many steps.
    pub fn steps(steps: u64) -> Self {
        Work { left: steps, spent: 0 }
    }

    /// Steps that were taken.
    pub fn spent(&self) -> u64 {
        self.spent
    }

    /// Takes a step; whether there was one.
    fn take(&mut self) -> bool {
        let there = self.left > 0;
        self.left -= u64::from(there);
        self.spent += u64::from(there);
        there
    }

    /// Takes a part of the budget for a part of the work; what it leaves is given back.
    fn with_part<T>(&mut self, most: u64, work: impl FnOnce(&mut Work) -> T) -> T {
        let mut part = Work { left: self.left.min(most), spent: 0 };
        let result = work(&mut part);
        self.left -= part.spent;
        self.spent += part.spent;
        result
    }
}
