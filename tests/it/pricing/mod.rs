//! Hours, purchases and prices.

mod cut_plan;
mod fixture;
mod labour;
mod purchase;
mod quotation;
mod totals;
