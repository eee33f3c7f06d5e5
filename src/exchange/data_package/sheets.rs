//! The sheets of the package: every field of every record has a column here. A test fills every field of a project and
//! fails when one is forgotten.

use super::sheet::{
    Column, Form, Holds, Nest, Sheet, Word, day, flag, id, json, names, number, one_of, text, time, whole,
    word, word_with,
};

/// The sheets, records before the lists inside them.
pub(super) const SHEETS: &[Sheet] = &[
    sheet("project", "about", "What the project is; one line.", PROJECT),
    sheet(
        "seasons",
        "seasons",
        "A season: one cycle, planted, harvested, tested, selected.",
        SEASONS,
    ),
    list(
        "season_openings",
        "seasons",
        "The opening of a closed season, to correct something.",
        &[nest("openings", "line", "The line, from 1.", Form::List)],
        &[
            time("at", "When, by the clock on the wall.").needed(),
            text("by", "Who."),
            text("reason", "Why.").needed(),
        ],
    ),
    sheet("rows", "rows", "A row: a family planted in a season.", ROWS),
    sheet(
        "traits",
        "traits",
        "A trait: anything that is measured on an ear.",
        TRAITS,
    ),
    list(
        "trait_grades",
        "traits",
        "What a value of a trait means.",
        &[nest("anchors", "value", "The value.", Form::Map(""))],
        &[text("meaning", "What it means.").at(".")],
    ),
    sheet("ears", "ears", "A harvested ear.", EARS),
    list(
        "ear_values",
        "ears",
        "The value of a trait of an ear.",
        &[TRAIT_VALUES],
        &[number("value", "The value, in the unit of the trait.")
            .at(".")
            .needed()],
    ),
    list(
        "brought_counts",
        "ears",
        "A count of an ear in the project in which it was grown.",
        &[nest(
            "brought.counts",
            "line",
            "The line, from 1 for the oldest.",
            Form::List,
        )],
        BROUGHT_COUNTS,
    ),
    sheet(
        "packets",
        "packets",
        "A packet: an envelope with kernels of one ear.",
        &[
            id("The packet's number."),
            names("ear", "ears", "The ear whose kernels it holds.").needed(),
            text("location", "Where it lies, such as a box and a slot."),
            names("store", "storage_places", "The storage place that it is kept in."),
            number(
                "moisture_percent",
                "Moisture of the kernels, in percent of their fresh weight.",
            )
            .within(1.0, 60.0),
            day("moisture_on", "The day on which the moisture was measured."),
        ],
    ),
    list(
        "ledger",
        "packets",
        "A line of a packet's ledger: kernels in or out.",
        &[nest(
            "ledger",
            "line",
            "The line, from 1 for the oldest.",
            Form::List,
        )],
        LEDGER,
    ),
    parted(
        "tests",
        "tests",
        "A germination test: its trays and its recipe.",
        TESTS,
        &["plan", "recipe"],
    ),
    list(
        "containers",
        "tests",
        "Trays of another size in a test, used first.",
        &[nest(
            "plan.others",
            "container",
            "Its number in the test, from 1.",
            Form::List,
        )],
        CONTAINERS,
    ),
    sheet("trays", "trays", "A tray of a test.", TRAYS),
    sheet("cells", "cells", "A cell of a tray and what lies in it.", CELLS),
    parted(
        "counts",
        "counts",
        "What was seen in a cell on one day. A count is never changed: a correction is another one that names it.",
        COUNTS,
        &["tally"],
    ),
    sheet(
        "tray_events",
        "events",
        "What happened to trays during a test.",
        TRAY_EVENTS,
    ),
    sheet(
        "temperature_logs",
        "logs",
        "A temperature logger during a test.",
        TEMPERATURE_LOGS,
    ),
    list(
        "log_spans",
        "logs",
        "Trays that a logger stood for, from one time to another.",
        &[nest("spans", "span", "The span, from 1.", Form::List)],
        LOG_SPANS,
    ),
    list(
        "temperatures",
        "logs",
        "A reading of a temperature logger.",
        &[nest("readings", "reading", "The reading, from 1.", Form::List)],
        &[
            whole("minutes", 0.0, 576_000.0, "Minutes after the first reading.")
                .at("0")
                .needed(),
            number("temperature_c", "Temperature, in degrees Celsius.")
                .at("1")
                .within(-60.0, 100.0)
                .needed(),
        ],
    ),
    parted(
        "selections",
        "selections",
        "The cutoffs of a season.",
        SELECTIONS,
        &["cutoffs"],
    ),
    list(
        "selection_trait_limits",
        "selections",
        "A limit on a trait among the cutoffs.",
        &[TRAIT_LIMITS],
        LIMITS,
    ),
    list(
        "words",
        "selections",
        "The grower's own word about an ear, above every cutoff.",
        &[nest("words", "ear", "The ear.", Form::Map("ears"))],
        &[
            one_of("word", WORDS, "What is to happen.").at("kind").needed(),
            text("reason", "Why.").needed(),
        ],
    ),
    list_parted(
        "kept_cutoffs",
        "selections",
        "Cutoffs that were kept under a name.",
        KEPT,
        KEPT_CUTOFFS,
        &["cutoffs"],
    ),
    list(
        "kept_trait_limits",
        "selections",
        "A limit on a trait among kept cutoffs.",
        KEPT_LIMITS,
        LIMITS,
    ),
    list_parted(
        "cutoff_moves",
        "selections",
        "A move of the cutoffs.",
        MOVES,
        CUTOFF_MOVES,
        &["cutoffs"],
    ),
    list(
        "move_trait_limits",
        "selections",
        "A limit on a trait among the cutoffs after a move.",
        MOVE_LIMITS,
        LIMITS,
    ),
    list(
        "index_weights",
        "selections",
        "The weight of a trait in the index of a selection.",
        &[nest("index.weights", "line", "The line, from 1.", Form::List)],
        INDEX_WEIGHTS,
    ),
    parted(
        "planting_lists",
        "lists",
        "A frozen planting list. Its text is fixed and its digest is taken of that text.",
        PLANTING_LISTS,
        &["cutoffs"],
    ),
    list(
        "list_trait_limits",
        "lists",
        "A limit on a trait among the cutoffs of a frozen list.",
        &[TRAIT_LIMITS],
        LIMITS,
    ),
    list(
        "list_ears",
        "lists",
        "An ear of a frozen planting list, with what was known of it then.",
        &[nest(
            "entries",
            "line",
            "Its line on the list, from 1.",
            Form::List,
        )],
        LIST_EARS,
    ),
    list(
        "list_reserves",
        "lists",
        "An ear held in reserve on a frozen planting list.",
        &[nest(
            "reserves",
            "line",
            "Its line in the reserve, from 1.",
            Form::List,
        )],
        LIST_EARS,
    ),
    sheet(
        "photos",
        "photos",
        "The facts of a photograph of a tray. The picture itself lies in the project's folder of photographs.",
        PHOTOS,
    ),
    parted(
        "field_plans",
        "plans",
        "The plan of the field in which a list is planted.",
        FIELD_PLANS,
        &["shape"],
    ),
    list(
        "neighbours",
        "plans",
        "Other corn that flowers near a field.",
        &[nest("neighbours", "line", "The line, from 1.", Form::List)],
        NEIGHBOURS,
    ),
    list(
        "detassel_rounds",
        "plans",
        "A round of detasselling.",
        &[nest("rounds", "line", "The line, from 1.", Form::List)],
        DETASSEL_ROUNDS,
    ),
    sheet(
        "field_rows",
        "field_rows",
        "A row of a field plan, and what was seen in it.",
        FIELD_ROWS,
    ),
    sheet(
        "weather",
        "weather",
        "A month of which the weather is known.",
        &[id("The month: its year and its number, such as 202605.")],
    ),
    list(
        "weather_days",
        "weather",
        "The weather of a day.",
        &[nest("days", "day", "The day of the month.", Form::Map(""))],
        &[
            number(
                "high_c",
                "The highest temperature of the day, in degrees Celsius.",
            )
            .at("0")
            .within(-80.0, 65.0)
            .needed(),
            number("low_c", "The lowest temperature of the day, in degrees Celsius.")
                .at("1")
                .within(-80.0, 65.0)
                .needed(),
        ],
    ),
    sheet(
        "storage_places",
        "stores",
        "A place where packets are kept.",
        STORAGE_PLACES,
    ),
];

const fn sheet(
    name: &'static str,
    section: &'static str,
    about: &'static str,
    columns: &'static [Column],
) -> Sheet {
    Sheet {
        name,
        about,
        section,
        nests: &[],
        columns,
        parts: &[],
    }
}

const fn parted(
    name: &'static str,
    section: &'static str,
    about: &'static str,
    columns: &'static [Column],
    parts: &'static [&'static str],
) -> Sheet {
    Sheet {
        name,
        about,
        section,
        nests: &[],
        columns,
        parts,
    }
}

const fn list(
    name: &'static str,
    section: &'static str,
    about: &'static str,
    nests: &'static [Nest],
    columns: &'static [Column],
) -> Sheet {
    Sheet {
        name,
        about,
        section,
        nests,
        columns,
        parts: &[],
    }
}

const fn list_parted(
    name: &'static str,
    section: &'static str,
    about: &'static str,
    nests: &'static [Nest],
    columns: &'static [Column],
    parts: &'static [&'static str],
) -> Sheet {
    Sheet {
        name,
        about,
        section,
        nests,
        columns,
        parts,
    }
}

const fn nest(path: &'static str, key: &'static str, about: &'static str, form: Form) -> Nest {
    Nest {
        path,
        key,
        about,
        form,
    }
}

const TRAIT_VALUES: Nest = nest("values", "trait", "The trait.", Form::Map("traits"));
const TRAIT_LIMITS: Nest = nest("cutoffs.traits", "trait", "The trait.", Form::Map("traits"));

const CATEGORIES: &str =
    "Kernels are counted by these categories, in the order in which they are typed; empty for all.";

const PROJECT: &[Column] = &[
    text("name", "The project's name.").needed(),
    text("prefix", "The letters with which all ear codes begin.").needed(),
    text(
        "id",
        "A text that tells this project from all others; copies of the project share it.",
    )
    .needed(),
    text("population", "What is grown and bred for."),
    text("grower", "Who grows it."),
    text("restrictions", "Rules that came with the seed."),
    one_of(
        "length_unit",
        &[word("inches", "Inches"), word("centimetres", "Centimetres")],
        "The unit in which lengths are shown; this package always holds millimetres.",
    )
    .at("units.length")
    .needed(),
    one_of(
        "temperature_unit",
        &[word("celsius", "Celsius"), word("fahrenheit", "Fahrenheit")],
        "The unit in which temperatures are shown; this package always holds degrees Celsius.",
    )
    .at("units.temperature")
    .needed(),
    one_of(
        "germinated",
        &[
            word("strong and weak", "StrongAndWeak"),
            word("strong only", "StrongOnly"),
        ],
        "Which seedlings count as germinated.",
    )
    .needed(),
    json("categories", CATEGORIES).at("scheme.order"),
    whole(
        "scheme_version",
        0.0,
        65_535.0,
        "How often the categories were changed.",
    )
    .at("scheme.version"),
    whole(
        "test_after_seasons",
        1.0,
        50.0,
        "Seasons after which stored seed is tested again; empty for the usual 2.",
    )
    .at("storage.test_after"),
    whole(
        "old_after_seasons",
        1.0,
        50.0,
        "Seasons after which the last seed of a line is called old; empty for the usual 4.",
    )
    .at("storage.old_after"),
    whole(
        "few_kernels",
        0.0,
        100_000.0,
        "Fewer kernels of a line are called few; empty for the usual 50.",
    )
    .at("storage.few_kernels"),
    whole(
        "low_percent",
        0.0,
        100.0,
        "A lower germination in percent is called low; empty for the usual 60.",
    )
    .at("storage.low_percent"),
    number(
        "frost_c",
        "The low of a day at or below which ears still out count as frosted, in degrees Celsius; empty for 0.",
    )
    .within(-20.0, 5.0),
];

const STORAGE_PLACES: &[Column] = &[
    id("The place's number."),
    text("name", "What it is called.").needed().only_once(),
    number("temperature_c", "How warm it usually is, in degrees Celsius.").within(-80.0, 60.0),
    number("humidity_percent", "Relative humidity of its air, in percent.").within(0.0, 100.0),
    text("note", "A note."),
];

const SEASONS: &[Column] = &[
    id("The season's number."),
    whole("year", 1800.0, 2200.0, "The year of its harvest.")
        .needed()
        .only_once(),
    day(
        "planted",
        "The day when the rows were planted, where a row does not say otherwise.",
    ),
    whole(
        "remnant",
        0.0,
        100_000.0,
        "Kernels that must stay in every packet.",
    )
    .needed(),
    whole(
        "plant_each",
        0.0,
        100_000.0,
        "Kernels to plant of each chosen ear.",
    )
    .needed(),
    json(
        "retired_serials",
        "Numbers inside ear codes that were given out once and are not given again.",
    ),
    text("note", "A note."),
    day(
        "closed",
        "The day on which it was closed; empty while it is open.",
    ),
    whole(
        "pollen_plants",
        1.0,
        10_000_000.0,
        "Plants that shed pollen over the rows; empty for as many as are planted.",
    ),
    number(
        "pollen_of_own_rows",
        "The part of the pollen that plants of the season's own rows shed, 0 to 1; empty where it was not said.",
    )
    .at("pollen.own")
    .within(0.0, 1.0),
    json(
        "pollen_rows",
        "The numbers of the rows that shed it where all others were detasselled; empty for all rows.",
    )
    .at("pollen.rows"),
    number(
        "heritability_least",
        "The least heritability that the grower believes in, from 0 to 1.",
    )
    .at("heritability.least")
    .within(0.0, 1.0),
    number(
        "heritability_most",
        "The greatest heritability that the grower believes in, from 0 to 1.",
    )
    .at("heritability.most")
    .within(0.0, 1.0),
    WANTED_PLANTS,
    WANTED_SURENESS,
    FIELD_FACTOR,
];

const WANTED_PLANTS: Column = whole(
    "wanted_plants",
    1.0,
    500.0,
    "Plants that are wanted of each chosen ear, where kernels are reckoned for a stand; empty for the usual 20.",
)
.at("sowing.plants");
const WANTED_SURENESS: Column = number(
    "wanted_sureness",
    "With which probability so many plants are wanted, 0.5 to 0.99.",
)
.at("sowing.sureness")
.within(0.5, 0.99);
const FIELD_FACTOR: Column = number(
    "field_factor",
    "The part of the kernels which germinate in a tray that become plants in the field too, 0.01 to 1.",
)
.at("sowing.field_factor")
.within(0.01, 1.0);

const ROWS: &[Column] = &[
    id("The row's number."),
    names("season", "seasons", "Its season.").needed(),
    text("label", "What stands on its stake.").needed(),
    one_of(
        "source",
        &[
            word("unknown", "Unknown"),
            word_with("ear", "Ear", Holds::Value),
            word_with("bulk", "Bulk", Holds::Value),
            word_with("check lot", "CheckLot", Holds::Value),
        ],
        "Where its seed came from.",
    )
    .needed(),
    names(
        "source_ear",
        "ears",
        "The ear of an earlier season from which it was planted.",
    )
    .at("source.Ear"),
    text("source_bulk", "The name of the bulk from which it was planted.").at("source.Bulk"),
    text(
        "source_check_lot",
        "The name of the check lot from which it was planted.",
    )
    .at("source.CheckLot"),
    day("planted", "The day when it was planted, if not the season's day."),
    text("note", "A note."),
];

const TRAITS: &[Column] = &[
    id("The trait's number."),
    text("name", "Its name.").needed(),
    text("unit", "Its unit; empty for a grade or a plain number."),
    number("least", "The least value that is possible."),
    number("most", "The greatest value that is possible."),
    one_of(
        "better",
        &[
            word("higher", "Higher"),
            word("lower", "Lower"),
            word("neither", "Neither"),
        ],
        "Which direction is wanted.",
    )
    .needed(),
    whole("decimals", 0.0, 6.0, "Digits shown after the point.").needed(),
];

const EARS: &[Column] = &[
    id("The ear's number in this file."),
    names("season", "seasons", "The season of its harvest.").needed(),
    whole("number", 1.0, 9_999_999.0, "Its number within the season.").needed(),
    text("code", "Its permanent code with a check character.")
        .needed()
        .only_once(),
    names("row", "rows", "The row of its mother plant."),
    day(
        "planted",
        "The day when its plant was planted, if not its row's day.",
    ),
    day("matured", "The day when it matured."),
    day("picked", "The day when it was picked."),
    whole(
        "maturity_days",
        1.0,
        366.0,
        "Days from planting to maturity, where they were noted instead of dates.",
    ),
    number(
        "heat_units_c",
        "Heat units from planting to maturity, in degrees Celsius times days.",
    )
    .within(0.0, 7_500.0),
    flag(
        "frosted",
        "Whether frost reached it before it was brought in; empty where nobody said.",
    )
    .or(""),
    text("note", "A note."),
    text("batch", "The batch in which it was dried."),
    text(
        "brought_from",
        "The name of the other project in which it was grown.",
    )
    .at("brought.project"),
    text(
        "brought_from_id",
        "The text that tells that project from all others.",
    )
    .at("brought.project_id"),
    day("brought_on", "The day on which it was brought.").at("brought.on"),
    whole(
        "brought_number",
        0.0,
        u32::MAX as f64,
        "Its number in the other project.",
    )
    .at("brought.number"),
    text("brought_row", "Its mother row in the other project.").at("brought.row"),
    text("brought_restrictions", "Rules that came with the seed.").at("brought.restrictions"),
    json(
        "brought_figures",
        "Values of traits that are not known here, each in words.",
    )
    .at("brought.figures"),
];

const BROUGHT_COUNTS: &[Column] = &[
    text("test", "The test, its recipe and the cell, in words.").needed(),
    one_of("pass", PASSES, "When in the test.").needed(),
    whole(
        "pass_day",
        0.0,
        90.0,
        "The day of a count between the early and the final one, from the day of laying.",
    )
    .at("pass.Between"),
    day("on", "The day."),
    text("by", "Who counted."),
    whole("germinated", 0.0, u32::MAX as f64, "Germinated kernels.").needed(),
    whole("counted", 0.0, u32::MAX as f64, "Counted kernels.").needed(),
    text("seen", "What was seen, in words.").needed(),
];

const LEDGER: &[Column] = &[
    day("on", "The day."),
    whole(
        "kernels",
        -1_000_000.0,
        1_000_000.0,
        "Kernels in (positive) or out (negative).",
    )
    .needed(),
    one_of(
        "reason",
        &[
            word("shelled", "Shelled"),
            word("came from another project", "Brought"),
            word("counted again", "Recounted"),
            word_with("laid in a test", "Test", Holds::Value),
            word("planted", "Planted"),
            word_with("planted from a list", "PlantedFrom", Holds::Value),
            word("given away", "Given"),
            word("lost", "Lost"),
        ],
        "Why.",
    )
    .needed(),
    names("test", "tests", "The test in which they were laid.").at("reason.Test"),
    names(
        "planting_list",
        "planting_lists",
        "The frozen list from which they were planted.",
    )
    .at("reason.PlantedFrom"),
    text("note", "A note."),
];

const TESTS: &[Column] = &[
    id("The test's number."),
    names("season", "seasons", "The season whose ears it tests.").needed(),
    text("name", "Its name.").needed(),
    number(
        "tray_width_mm",
        "Inner width of a tray, along a row of cells, in millimetres.",
    )
    .at("plan.width_mm")
    .within(10.0, 10_000.0)
    .needed(),
    number(
        "tray_depth_mm",
        "Inner depth of a tray, along a column of cells, in millimetres.",
    )
    .at("plan.height_mm")
    .within(10.0, 10_000.0)
    .needed(),
    number(
        "margin_mm",
        "Margin on each side that holds no cells, in millimetres.",
    )
    .at("plan.margin_mm")
    .within(0.0, 1_000.0)
    .needed(),
    number("cell_width_mm", "Width of a cell, in millimetres.")
        .at("plan.cell_width_mm")
        .within(5.0, 10_000.0)
        .needed(),
    number("cell_depth_mm", "Depth of a cell, in millimetres.")
        .at("plan.cell_height_mm")
        .within(5.0, 10_000.0)
        .needed(),
    number(
        "aisle_mm",
        "Width of the strip without kernels between neighbouring cells, in millimetres.",
    )
    .at("plan.aisle_mm")
    .within(0.0, 1_000.0)
    .or("0"),
    whole("kernels_per_cell", 1.0, 400.0, "Kernels laid in a cell.")
        .at("plan.kernels")
        .needed(),
    whole("replicates", 1.0, 20.0, "Cells of each ear.")
        .at("plan.replicates")
        .needed(),
    whole(
        "checks_per_tray",
        0.0,
        100.0,
        "Cells of the check lot in each tray.",
    )
    .at("plan.checks")
    .needed(),
    whole(
        "landmarks_per_tray",
        0.0,
        100.0,
        "Cells left empty on purpose in each tray.",
    )
    .at("plan.landmarks")
    .needed(),
    one_of(
        "spread",
        &[word("blocks", "Blocks"), word("anywhere", "Anywhere")],
        "How the cells of one ear are spread over the trays.",
    )
    .at("plan.spread")
    .or("blocks"),
    number("cold_c", "Temperature of the cold days, in degrees Celsius.")
        .at("recipe.cold_c")
        .within(-5.0, 45.0)
        .needed(),
    whole(
        "early_day",
        1.0,
        90.0,
        "Day of the early count, from the day of laying.",
    )
    .at("recipe.early_day"),
    whole(
        "final_day",
        1.0,
        90.0,
        "Day of the final count, from the day of laying.",
    )
    .at("recipe.final_day")
    .needed(),
    text("medium", "What the kernels lie on.").at("recipe.medium"),
    number(
        "warm_c",
        "Temperature of the warmer days after the cold ones, in degrees Celsius.",
    )
    .at("recipe.warm.c")
    .within(-5.0, 45.0),
    whole(
        "warm_from_day",
        1.0,
        90.0,
        "The first warmer day, from the day of laying.",
    )
    .at("recipe.warm.from_day"),
    number(
        "band_c",
        "How far the temperature may be from the wanted one, in degrees Celsius; empty for what is usual.",
    )
    .at("recipe.band_c")
    .within(0.1, 20.0),
    whole(
        "water_every_days",
        1.0,
        90.0,
        "Days between two looks at the water.",
    )
    .at("recipe.water_every"),
    whole(
        "seed",
        0.0,
        u64::MAX as f64,
        "The number from which the layout was drawn.",
    )
    .needed(),
    text("check_lot", "The name of the check lot."),
    day("laid", "The day when the last kernels were laid."),
];

const CONTAINERS: &[Column] = &[
    text("name", "What it is called."),
    number("width_mm", "Inner width, in millimetres.")
        .within(10.0, 10_000.0)
        .needed(),
    number("depth_mm", "Inner depth, in millimetres.")
        .at("height_mm")
        .within(10.0, 10_000.0)
        .needed(),
    number(
        "margin_mm",
        "Margin on each side that holds no cells, in millimetres.",
    )
    .within(0.0, 1_000.0)
    .needed(),
    whole("trays", 1.0, 9999.0, "How many of them there are.").needed(),
];

const TRAYS: &[Column] = &[
    id("The tray's number in this file."),
    names("test", "tests", "Its test.").needed(),
    whole("number", 1.0, 9999.0, "Its number within the test.").needed(),
    whole("replicate", 1.0, 20.0, "The replicate that it belongs to.").needed(),
    whole("rows", 1.0, 1000.0, "Rows of cells.").needed(),
    whole("columns", 1.0, 1000.0, "Columns of cells.").needed(),
    whole(
        "container",
        0.0,
        20.0,
        "Its size: 0 for that of the test, from 1 for the containers of the test.",
    )
    .or("0"),
];

const CELLS: &[Column] = &[
    id("The cell's number."),
    names("tray", "trays", "Its tray.").needed(),
    whole("row", 1.0, 1000.0, "Its row, from the top.").needed(),
    whole("column", 1.0, 1000.0, "Its column, from the left.").needed(),
    one_of("content", &[
        word_with("ear", "Ear", Holds::Value),
        word_with("check", "Check", Holds::Value),
        word("landmark", "Landmark"),
        word("spare", "Spare"),
    ], "What lies in it: kernels of an ear or of the check lot, nothing on purpose (a landmark), or nothing yet (spare).").needed(),
    names("ear", "ears", "The ear whose kernels lie in it.").at("content.Ear"),
    whole("check", 0.0, 65_535.0, "The check cell's number in its tray.").at("content.Check"),
    whole("laid", 1.0, 400.0, "Kernels laid, where they are not as many as the test says."),
    day("laid_on", "The day when they were laid, where it is not the day of the whole test."),
];

const PASSES: &[Word] = &[
    word("early", "Early"),
    word_with("between", "Between", Holds::Value),
    word("final", "Final"),
];

const COUNTS: &[Column] = &[
    id("The count's number."),
    names("cell", "cells", "The cell.").needed(),
    one_of("pass", PASSES, "When in the test.").needed(),
    whole(
        "pass_day",
        0.0,
        90.0,
        "The day of a count between the early and the final one, from the day of laying.",
    )
    .at("pass.Between"),
    day("on", "The day."),
    text("by", "Who counted."),
    flag(
        "second",
        "Whether it is the count of a second scorer, which does not decide.",
    ),
    kernels("strong", "Normal seedlings, strong.").at("tally.strong"),
    kernels("weak", "Normal seedlings, weak or slow.").at("tally.weak"),
    kernels("abnormal", "Abnormal seedlings.").at("tally.abnormal"),
    kernels("dead", "Dead kernels.").at("tally.dead"),
    kernels("fresh", "Firm, swollen kernels that have not germinated.").at("tally.fresh"),
    kernels("missing", "Kernels that were not there to be counted.").at("tally.missing"),
    flag("mould", "Whether there was mould."),
    whole("vigor", 0.0, 9.0, "Grade of growth from 0 (none) to 9 (best)."),
    text("note", "A note."),
    names("corrects", "counts", "The count that this one corrects."),
    flag("void", "Whether it only withdraws the count that it corrects."),
    number("root_mm", "Median length of the roots, in millimetres.").within(0.0, 1_000.0),
    number("shoot_mm", "Median length of the shoots, in millimetres.").within(0.0, 1_000.0),
    text("overruled", "Why a guard was overruled."),
    whole(
        "scheme",
        0.0,
        65_535.0,
        "The version of the categories by which it was counted.",
    )
    .or("0"),
];

const fn kernels(name: &'static str, about: &'static str) -> Column {
    whole(name, 0.0, 65_535.0, about).or("0")
}

const TRAY_EVENTS: &[Column] = &[
    id("The event's number."),
    names("test", "tests", "The test.").needed(),
    json(
        "trays",
        "The numbers of the trays in this package; empty for all of the test.",
    ),
    time("at", "When, by the clock on the wall.").needed(),
    one_of(
        "kind",
        &[
            word_with("watered", "Watered", Holds::Fields),
            word_with("moved", "Moved", Holds::Fields),
            word("turned", "Turned"),
            word("note", "Note"),
        ],
        "What.",
    )
    .needed(),
    number("water_ml", "Water given to each tray, in millilitres.")
        .at("kind.Watered.ml")
        .within(0.0, 100_000.0),
    text("moved_to", "Where the trays were put.").at("kind.Moved.to"),
    text("note", "A note."),
];

const TEMPERATURE_LOGS: &[Column] = &[
    id("The log's number."),
    names("test", "tests", "The test during which it ran.").needed(),
    text("name", "What it is called.").needed(),
    time(
        "start",
        "The time of the first reading, by the clock on the wall.",
    )
    .needed(),
];

const LOG_SPANS: &[Column] = &[
    json(
        "trays",
        "The numbers of the trays in this package; empty for all of the test.",
    ),
    time("from", "From when; empty for the first reading."),
    time("to", "Until when; empty for the last reading."),
];

const CUTOFF_PERCENT: Column = number(
    "germination_percent",
    "Least cold germination, in percent; empty for no cutoff.",
)
.at("cutoffs.germination_percent")
.within(0.0, 100.0);
const CUTOFF_DAYS: Column = number("maturity_days", "Most maturity days; empty for no cutoff.")
    .at("cutoffs.maturity_days")
    .within(0.0, 10_000.0);
const CUTOFF_VIGOR: Column = number("vigor", "Least vigor grade; empty for no cutoff.")
    .at("cutoffs.vigor")
    .within(0.0, 9.0);
const CUTOFF_CAP: Column = whole(
    "cap_per_mother",
    0.0,
    65_535.0,
    "Most ears of one mother row; empty for no cap.",
)
.at("cutoffs.cap_per_mother");
const CUTOFF_SURENESS: Column = number(
    "sureness",
    "How sure it must be that an ear reaches the least cold germination, 0.5 to 0.99.",
)
.at("cutoffs.sureness")
.within(0.5, 0.99)
.needed();

const SELECTIONS: &[Column] = &[
    id("The selection's number."),
    names("season", "seasons", "The season whose ears are chosen.").needed(),
    text("name", "Its name.").needed(),
    CUTOFF_PERCENT,
    CUTOFF_DAYS,
    CUTOFF_VIGOR,
    CUTOFF_CAP,
    CUTOFF_SURENESS,
    number(
        "most_coancestry",
        "The greatest mean coancestry of the kernels planted, 0 to 1; empty for equal kernels.",
    )
    .within(0.0, 1.0),
    flag(
        "for_a_stand",
        "Whether the kernels of each ear are reckoned for the plants that the season wants of it.",
    ),
    whole(
        "least_mothers",
        0.0,
        65_535.0,
        "So many mother rows are wanted on the list at least.",
    ),
    flag("index_missing_as_mean", "Whether a value that is not known counts as the mean in the index; empty without an index or for no.").at("index.missing_as_mean").or(""),
];

const KEPT: &[Nest] = &[KEPT_NEST];
const KEPT_NEST: Nest = nest(
    "kept",
    "kept",
    "The set, from 1 for the one kept first.",
    Form::List,
);
const KEPT_LIMITS: &[Nest] = &[KEPT_NEST, TRAIT_LIMITS];

const KEPT_CUTOFFS: &[Column] = &[
    text("name", "The name of the set.").needed(),
    CUTOFF_PERCENT,
    CUTOFF_DAYS,
    CUTOFF_VIGOR,
    CUTOFF_CAP,
    CUTOFF_SURENESS,
    text("note", "A note."),
    day("on", "The day on which it was kept.").needed(),
];

const MOVES: &[Nest] = &[MOVE_NEST];
const MOVE_NEST: Nest = nest("moves", "move", "The move, from 1 for the oldest.", Form::List);
const MOVE_LIMITS: &[Nest] = &[MOVE_NEST, TRAIT_LIMITS];

const CUTOFF_MOVES: &[Column] = &[
    time("at", "When it began, by the clock of the computer.").needed(),
    text("by", "Who moved them."),
    CUTOFF_PERCENT,
    CUTOFF_DAYS,
    CUTOFF_VIGOR,
    CUTOFF_CAP,
    CUTOFF_SURENESS,
    whole(
        "ears_kept",
        0.0,
        4_294_967_295.0,
        "Ears that these cutoffs kept then; empty when nobody looked.",
    )
    .at("kept"),
    flag("names_hidden", "Whether the names of the ears were hidden."),
];

const INDEX_WEIGHTS: &[Column] = &[
    one_of(
        "of",
        &[
            word("cold germination", "Germination"),
            word("cold germination for its maturity", "GerminationForItsMaturity"),
            word("maturity days", "Maturity"),
            word("vigor", "Vigor"),
            word_with("trait", "Trait", Holds::Value),
        ],
        "What is weighed.",
    )
    .needed(),
    names("trait", "traits", "The trait that is weighed.").at("of.Trait"),
    number(
        "weight",
        "What one standard deviation is worth; below 0 where less is wanted.",
    )
    .within(-1000.0, 1000.0)
    .needed(),
];

const LIMITS: &[Column] = &[
    number("least", "The least value, in the unit of the trait."),
    number("most", "The greatest value, in the unit of the trait."),
];

const WORDS: &[Word] = &[
    word("always plant", "Always"),
    word("never plant", "Never"),
    word("hold in reserve", "Reserve"),
];

const PLANTING_LISTS: &[Column] = &[
    id("The list's number."),
    names("season", "seasons", "The season whose ears it lists.").needed(),
    whole("year", 1800.0, 2200.0, "The season's year, as it was printed.").needed(),
    text("project", "The project's name, as it was printed.").needed(),
    whole(
        "version",
        1.0,
        65_535.0,
        "1 for the first list of a season, 2 for its revision, and so on.",
    )
    .needed(),
    text("reason", "Why it replaces the list before it."),
    day("frozen_on", "The day when it was frozen.").needed(),
    text("frozen_by", "Who froze it.").needed(),
    CUTOFF_PERCENT,
    CUTOFF_DAYS,
    CUTOFF_VIGOR,
    CUTOFF_CAP,
    CUTOFF_SURENESS,
    text("rules", "The cutoffs in words, as they were frozen."),
    WANTED_PLANTS,
    WANTED_SURENESS,
    FIELD_FACTOR,
    text("digest", "SHA-256 of the list's text, in hexadecimal digits.").needed(),
];

const LIST_EARS: &[Column] = &[
    names("ear", "ears", "The ear.").needed(),
    text("code", "Its code.").needed(),
    whole("number", 1.0, 9_999_999.0, "Its number within the season.").needed(),
    text("mother", "The label of its mother row; empty when unknown."),
    whole(
        "germinated",
        0.0,
        4_294_967_295.0,
        "Germinated kernels; empty for an ear that was not scored.",
    )
    .at("germinated.0"),
    whole(
        "counted",
        0.0,
        4_294_967_295.0,
        "Counted kernels; empty for an ear that was not scored.",
    )
    .at("germinated.1"),
    number(
        "likely_percent",
        "What its cold germination is likely to be, in percent.",
    )
    .within(0.0, 1e6),
    number("maturity_days", "Days from planting to maturity.").within(0.0, 1e6),
    whole("plant", 0.0, 4_294_967_295.0, "Kernels to plant.").needed(),
    whole("keep", 0.0, 4_294_967_295.0, "Kernels to keep back.").needed(),
    text("why", "Why it is on the list."),
    whole(
        "kernels_needed",
        0.0,
        4_294_967_295.0,
        "The fewest kernels that give the wanted plants as surely as wanted; empty where none do.",
    )
    .at("sowing.needed"),
    number(
        "likely_plants",
        "Plants that the kernels to plant give on average.",
    )
    .at("sowing.plants")
    .within(0.0, 1e6),
    whole(
        "plants_low",
        0.0,
        4_294_967_295.0,
        "The lower end of the range that holds the plants with a probability of 90 %.",
    )
    .at("sowing.plants_low"),
    whole(
        "plants_high",
        0.0,
        4_294_967_295.0,
        "The upper end of that range.",
    )
    .at("sowing.plants_high"),
    number(
        "stand_probability",
        "The probability of the wanted plants, 0 to 1.",
    )
    .at("sowing.probability")
    .within(0.0, 1.0),
    whole(
        "sure_plants",
        0.0,
        4_294_967_295.0,
        "The most plants that are as sure as wanted.",
    )
    .at("sowing.sure_plants"),
];

const PHOTOS: &[Column] = &[
    id("The photograph's number."),
    names("tray", "trays", "The tray that it shows.").needed(),
    one_of("pass", PASSES, "The count at which it was taken; empty for none."),
    whole("pass_day", 0.0, 90.0, "The day of a count between the early and the final one, from the day of laying.").at("pass.Between"),
    text("file", "The name of its file in the project's folder of photographs.").needed(),
    text("digest", "SHA-256 of the original file, in hexadecimal digits.").needed(),
    whole("width_px", 1.0, 100_000.0, "Width of the upright picture, in pixels.").at("width").needed(),
    whole("height_px", 1.0, 100_000.0, "Height of the upright picture, in pixels.").at("height").needed(),
    time("taken", "When it was taken, by the clock of the camera."),
    json("corners_px", "Corners of the tray's cells in pixels of the upright picture: top left, top right, bottom right, bottom left, each as [across, down].").at("corners"),
];

const FIELD_PLANS: &[Column] = &[
    id("The plan's number."),
    names("list", "planting_lists", "The planting list that is planted.").needed(),
    whole(
        "seed",
        0.0,
        u64::MAX as f64,
        "The number from which the order was drawn.",
    )
    .needed(),
    one_of(
        "way",
        &[word("a row for each ear", "Families"), word("bulk", "Bulk")],
        "How the list is planted: a row for each ear, or the kernels of all ears mixed.",
    )
    .at("shape.way")
    .needed(),
    whole("replicates", 1.0, 20.0, "How often each ear is planted.")
        .at("shape.replicates")
        .needed(),
    whole(
        "rows_per_block",
        1.0,
        2000.0,
        "Rows side by side in a block at most, without border rows.",
    )
    .at("shape.rows_per_block")
    .needed(),
    whole("borders", 0.0, 50.0, "Border rows at each side of a block.")
        .at("shape.borders")
        .needed(),
    length(
        "row_length_mm",
        "Length of a row without border plants, in millimetres.",
    )
    .at("shape.row_length_mm"),
    length("row_spacing_mm", "Distance from row to row, in millimetres.").at("shape.row_spacing_mm"),
    length(
        "plant_spacing_mm",
        "Distance from plant to plant in a row, in millimetres.",
    )
    .at("shape.plant_spacing_mm"),
    whole(
        "kernels_per_place",
        1.0,
        20.0,
        "Kernels laid at each place of a row.",
    )
    .at("shape.kernels_per_place")
    .needed(),
    length(
        "end_mm",
        "Length of the border plants at each end of a row, in millimetres.",
    )
    .at("shape.end_mm"),
    length("path_mm", "The path between two blocks, in millimetres.").at("shape.path_mm"),
    whole(
        "check_every",
        1.0,
        2000.0,
        "Ears between one check row and the next; empty for no check rows.",
    )
    .at("shape.check_every"),
    whole(
        "bulk_every",
        1.0,
        2000.0,
        "Ears between one row of bulk and the next; empty for no rows of bulk.",
    )
    .at("shape.bulk_every"),
    one_of(
        "detassel",
        &[
            word("nothing", "Nothing"),
            word("every other row", "EveryOther"),
            word("all but bulk", "AllButBulk"),
        ],
        "Which rows have their tassels pulled.",
    )
    .at("shape.detassel")
    .needed(),
    one_of(
        "walk",
        &[word("straight", "Straight"), word("serpentine", "Serpentine")],
        "The order in which the rows are walked and their stakes are numbered.",
    )
    .at("shape.walk")
    .needed(),
    text("note", "A note."),
];

const fn length(name: &'static str, about: &'static str) -> Column {
    number(name, about).within(0.0, 1e6).needed()
}

const NEIGHBOURS: &[Column] = &[
    text("what", "What grows there.").needed(),
    number("distance_m", "How far away, in metres.").within(0.0, 100_000.0),
    text("direction", "Where, seen from the field."),
    day("sheds_from", "The first day on which its tassels shed."),
    day("sheds_to", "The last day on which they shed."),
    text("note", "A note."),
];

const DETASSEL_ROUNDS: &[Column] = &[
    day("on", "The day.").needed(),
    whole("pulled", 0.0, 1e7, "Plants whose tassels were pulled.").needed(),
    whole("shed", 0.0, 1e7, "Plants that shed already.").needed(),
    text("by", "Who did it."),
    text("note", "A note."),
];

const FIELD_ROWS: &[Column] = &[
    id("The row's number."),
    names("plan", "field_plans", "Its plan.").needed(),
    whole("stake", 1.0, 1e6, "The number on its stake, in walking order.").needed(),
    whole("replicate", 1.0, 65_535.0, "Its replicate.").needed(),
    whole("block", 1.0, 65_535.0, "Its block.").needed(),
    whole("across", 1.0, 65_535.0, "Its place in the block from the left.").needed(),
    one_of(
        "content",
        &[
            word_with("ear", "Ear", Holds::Value),
            word("check lot", "Check"),
            word("bulk", "Bulk"),
        ],
        "What is planted in it.",
    )
    .needed(),
    names("ear", "ears", "The ear whose kernels are planted in it.").at("content.Ear"),
    whole("kernels", 0.0, 1e6, "Kernels planted in it.").needed(),
    flag("detasselled", "Whether its tassels are pulled."),
    whole("stand", 0.0, 1e6, "Plants that stood, before any were pulled.").at("seen.stand"),
    day("stand_on", "The day on which they were counted.").at("seen.stand_on"),
    one_of(
        "loss",
        &[
            word("bird", "Bird"),
            word("insect", "Insect"),
            word("crust", "Crust"),
            word("washed out", "WashedOut"),
            word("unknown", "Unknown"),
        ],
        "Why plants are missing.",
    )
    .at("seen.loss"),
    whole("thinned_to", 0.0, 1e6, "Plants left after thinning.").at("seen.thinned_to"),
    whole("vigor", 0.0, 9.0, "Grade of growth from 0 to 9.").at("seen.vigor"),
    day("pollen_on", "The day on which half of the plants shed pollen.").at("seen.pollen_on"),
    day("silk_on", "The day on which half of the plants showed silk.").at("seen.silk_on"),
    number("plant_height_mm", "Height of the plants, in millimetres.")
        .at("seen.plant_height_mm")
        .within(0.0, 10_000.0),
    number(
        "ear_height_mm",
        "Height at which the upper ear sits, in millimetres.",
    )
    .at("seen.ear_height_mm")
    .within(0.0, 10_000.0),
    whole(
        "root_lodged",
        0.0,
        1e6,
        "Plants that lean more than 45 degrees from the root.",
    )
    .at("seen.root_lodged"),
    whole("stalk_lodged", 0.0, 1e6, "Plants broken below the ear.").at("seen.stalk_lodged"),
    whole(
        "pulled",
        0.0,
        1e6,
        "Plants pulled because they were off-type or ill.",
    )
    .at("seen.pulled"),
    whole("flavour", 1.0, 5.0, "Flavour from 1 to 5, 5 the best.").at("seen.flavour"),
    text("note", "A note.").at("seen.note"),
];
