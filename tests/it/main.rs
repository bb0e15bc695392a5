//! The one integration binary; its modules are the files beside this one.

mod demo;
mod house;
mod reevaluate;
mod reference;
