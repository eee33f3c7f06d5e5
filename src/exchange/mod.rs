//! Doors to paper and to other programs: project to bytes, bytes to rows and problems. Pure.

pub mod numbers;
pub mod print;
pub mod table_text;
