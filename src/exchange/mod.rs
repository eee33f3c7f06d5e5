//! Doors to paper and to other programs: project to bytes, bytes to rows and problems. Pure.

pub mod calendar_ics;
pub mod choice_pictures;
mod columns;
pub mod counts_csv;
pub mod data_package;
mod degrees;
pub mod ears_csv;
mod field_lines;
pub mod field_map;
pub mod field_sheets;
pub mod labels;
mod logger_time;
pub mod numbers;
pub mod packet_list;
pub mod passport;
pub mod pedigree_picture;
pub mod picture;
pub mod planting_list_print;
pub mod plot_picture;
pub mod print;
pub mod season_report;
pub mod selection_csv;
pub mod table_text;
pub mod temperature_csv;
pub mod tray_prints;
pub mod weather_csv;
