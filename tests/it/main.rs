//! The one integration binary; its modules are the files beside this one.

mod chain;
mod demo;
mod fixture;
mod house;
mod http;
mod pricing;
mod reevaluate;
mod reference;
mod store;
