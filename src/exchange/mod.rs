//! Doors to paper and to other programs: project to bytes, bytes to rows and problems. Pure.

mod columns;
pub mod counts_csv;
pub mod ears_csv;
pub mod numbers;
pub mod planting_list_print;
pub mod print;
pub mod table_text;
