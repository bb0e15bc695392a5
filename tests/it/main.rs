//! The one integration binary; its modules are the files beside this one.

mod reevaluate;
mod reference;
mod demo;
mod fixture;
mod store;

mod chain;
mod http;
