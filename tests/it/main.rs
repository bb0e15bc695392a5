//! The one integration binary; its modules are the files beside this one.

mod house;
mod reevaluate;
mod reference;
