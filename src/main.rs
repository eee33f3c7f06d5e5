//! Wintercrib.
fn main() {}
