//! The command line of rigbill.

fn main() {}
