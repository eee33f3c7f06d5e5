//! One door, named by the environment variable `DOOR`, under a fuzzer that is led by coverage.
#![no_main]

#[path = "../../targets.rs"]
mod targets;

use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;
use targets::TARGETS;

static DOOR: LazyLock<fn(&[u8])> = LazyLock::new(|| {
    let name = std::env::var("DOOR").unwrap_or_default();
    match TARGETS.iter().find(|(target, _)| *target == name) {
        Some((_, door)) => *door,
        None => panic!("set DOOR to one of: {}", TARGETS.map(|(name, _)| name).join(", ")),
    }
});

fuzz_target!(|bytes: &[u8]| DOOR(bytes));
