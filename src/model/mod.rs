//! The project and its invariants, and the one way in which it changes. Pure.
