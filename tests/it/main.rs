//! The one integration binary; its modules are the files beside this one.

mod addresses;
mod chain;
mod customer;
mod cuts;
mod dash;
mod demo;
mod fixture;
mod house;
mod http;
mod least_copper;
mod network;
mod pricing;
mod receiver;
mod reevaluate;
mod reference;
mod routes;
mod store;
