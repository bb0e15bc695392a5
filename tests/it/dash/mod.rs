//! Dashes: against an exhaustive search, against layouts worked by hand, and as part of a job.

mod by_hand;
mod exhaustive;
