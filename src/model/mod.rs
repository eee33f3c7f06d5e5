//! The project and its invariants, and the one way in which it changes. Pure: no window, no files, no clock.

mod bring;
mod brought;
mod change;
mod command;
mod count;
mod document;
mod ear;
mod ear_code;
mod ear_numbers;
mod entry;
mod field_plan;
mod field_row;
mod field_work;
mod ids;
mod laying;
mod merge;
mod next_season;
mod packet;
mod photo;
mod planting;
mod planting_list;
mod problem;
mod project;
mod repair;
mod season;
mod selection;
mod steps;
mod store_place;
mod storing;
mod table;
mod temperature_log;
mod test;
mod tray_event;
mod versions;
mod weather;
mod weather_days;
mod withdrawals;
mod words;

pub use bring::{Bringing, Line, LineEar, bring, line_of};
pub use brought::{Brought, BroughtCount};
pub use change::{Area, Change, Revisions, Stamp, Swap, Transaction};
pub use command::{
    Command, EarDraft, EarEdit, Existing, ListDraft, Seen, Taken, TestDesign, ears_of_first_trays, grid_of,
    lay_out, trays_needed,
};
pub use count::{Category, Count, Germinated, Pass, Scheme, Tally};
pub use document::{Committed, Document, Event};
pub use ear::{Better, Ear, MOST_EAR_NUMBER, MOST_MATURITY_DAYS, Trait};
pub use ear_code::{EarCode, EarCodeFault, Prefix, PrefixFault, check_character};
pub use ear_numbers::{ear_ranges, read_ear_numbers};
pub use entry::{
    DateOrder, EarField, EarValue, read_clock_shift, read_date, read_number, read_time, read_trays,
    read_whole, read_yes_or_no, trays_typed, yes_or_no,
};
pub use field_plan::{
    Detassel, DetasselRound, FieldPlan, FieldShape, FieldWay, MOST_FIELD_REPLICATES, MOST_ROWS_PER_BLOCK,
    Neighbour, Walk,
};
pub use field_row::{FieldContent, FieldRow, Loss, RowField, RowSeen};
pub use field_work::FieldNote;
pub use ids::{
    CellId, CountId, EarId, EventId, FieldRowId, ListId, LogId, PacketId, PhotoId, PlanId, RowId, SeasonId,
    SelectionId, StoreId, TestId, TraitId, TrayId, WeatherId,
};
pub use merge::{Comparison, Keep, Pair, compare};
pub use next_season::{NextRow, next_rows};
pub use packet::{LedgerLine, LedgerReason, MOST_KERNELS, Packet};
pub use photo::Photo;
pub use planting::Stock;
pub use planting_list::{EntrySowing, ListEntry, PlantingList};
pub use problem::{Fault, Place, Problem};
pub use project::{About, LengthUnit, Project, Records, TemperatureUnit, Units};
pub use repair::{Moved, Repair, RepairKind, ShiftEnd};
pub use season::{Opening, PollenSource, Row, RowSource, Season, ShareRange, Sowing};
pub use selection::{
    CutoffMove, Cutoffs, Index, IndexTrait, IndexWeight, KeptCutoffs, KernelWay, Limits, SeenWhileMoving,
    Selection, Stand, Word, WordKind,
};
pub use store_place::{MOISTURE_PERCENT, STORE_C, StorageRules, StorePlace};
pub use table::{Record, Table};
pub use temperature_log::{LogSpan, MOST_READINGS, TemperatureLog};
pub use test::{
    Cell, CellContent, MM_PER_INCH, MOST_KERNELS_PER_CELL, MOST_OTHER_CONTAINERS, MOST_REPLICATES,
    OtherContainer, Recipe, Spread, Test, Tray, TrayPlan, USUAL_BAND_C, WarmDays, cell_name, row_letters,
};
pub use tray_event::{EventKind, TrayEvent};
pub use versions::{Difference, FieldLine, Happened, Parting, Side, Versions, compare_versions};
pub use weather::{AIR_C, WeatherDay, WeatherMonth};
pub use weather_days::{HEAT_BASE_C, HEAT_CAP_C, WeatherDays};
pub use words::{capital, cut_message, plural, sentence, shortened};
