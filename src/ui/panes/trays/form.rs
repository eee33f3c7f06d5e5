//! The design of a test as it is being typed.

use super::measure::{
    Measured, read_difference, read_length, read_temperature, write_difference, write_length,
    write_temperature,
};
use crate::insight::next_seed;
use crate::model::{
    LengthUnit, MOST_KERNELS_PER_CELL, MOST_OTHER_CONTAINERS, MOST_REPLICATES, OtherContainer, Recipe,
    Spread, TemperatureUnit, Test, TrayPlan, USUAL_BAND_C, Units, WarmDays, read_whole,
};
use crate::ui::tokens::Tokens;
pub(super) use crate::ui::widgets::parts::alert;
use crate::ui::widgets::segmented::segmented;
use egui::{Id, Response, RichText, Role, TextEdit, Ui, WidgetInfo, vec2};

/// A field of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Field {
    Name,
    Width,
    Depth,
    CellWidth,
    CellHeight,
    Margin,
    Aisle,
    /// Any length or number of another size of tray, by its place.
    Other(usize),
    Kernels,
    Replicates,
    Checks,
    Landmarks,
    Seed,
    Temperature,
    Warm,
    WarmFrom,
    Band,
    Early,
    Final,
    Water,
}

/// What kind of test it is, by its temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Cold,
    Warm,
    ColdThenWarm,
}

impl Kind {
    const ALL: [Self; 3] = [Self::Cold, Self::Warm, Self::ColdThenWarm];
    const NAMES: [&str; 3] = ["Cold", "Warm", "Cold, then warm"];

    /// The kind of a recipe. From 20 °C on a test is warm: the lower of the temperatures of the standard warm test of
    /// corn (7 CFR 201.58).
    fn of(recipe: &Recipe) -> Self {
        match recipe.warm {
            Some(_) => Self::ColdThenWarm,
            None if recipe.cold_c >= 20.0 => Self::Warm,
            None => Self::Cold,
        }
    }

    /// Temperatures and days to begin with.
    fn usual(self) -> Recipe {
        match self {
            // The early count on day 6 at 13 °C follows published trials; the final day is common practice, no source.
            Self::Cold => Recipe::default(),
            // The standard warm test of corn: 25 °C, first count on day 4, final count on day 7 (7 CFR 201.58).
            Self::Warm => Recipe {
                cold_c: 25.0,
                early_day: Some(4),
                final_day: 7,
                ..Recipe::default()
            },
            // The usual cold test of corn: 10 °C for 7 days, then 25 °C for up to 7 (Iowa State University Seed Laboratory).
            Self::ColdThenWarm => Recipe {
                cold_c: 10.0,
                early_day: None,
                final_day: 14,
                warm: Some(WarmDays { c: 25.0, from_day: 7 }),
                ..Recipe::default()
            },
        }
    }

    fn hint(self) -> &'static str {
        match self {
            Self::Cold => {
                "One cold place throughout; usual here: 13 °C, early count on day 6, final count on day 12."
            }
            Self::Warm => {
                "One warm place throughout; the standard warm test of corn: 25 °C, counts on days 4 and 7 (7 CFR 201.58)."
            }
            Self::ColdThenWarm => {
                "First cold, then warm; a usual cold test of corn: 10 °C for 7 days, then 25 °C for 7 (Iowa State University Seed Laboratory)."
            }
        }
    }
}

/// What stands in the form.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Draft {
    pub name: String,
    width: Measured,
    depth: Measured,
    cell_width: Measured,
    cell_height: Measured,
    margin: Measured,
    aisle: Measured,
    others: Vec<OtherDraft>,
    kernels: String,
    replicates: String,
    spread: Spread,
    check_lot: String,
    checks: String,
    landmarks: String,
    seed: String,
    temperature: Measured,
    warm: Measured,
    warm_from: String,
    band: Measured,
    early: String,
    last: String,
    water: String,
    medium: String,
    units: Units,
}

/// Another size of tray as it is being typed.
#[derive(Debug, Clone, PartialEq)]
struct OtherDraft {
    name: String,
    width: Measured,
    depth: Measured,
    margin: Measured,
    trays: String,
}

impl OtherDraft {
    fn new(other: &OtherContainer, unit: LengthUnit) -> Self {
        let length = |millimetres| Measured::new(write_length(millimetres, unit), millimetres);
        Self {
            name: other.name.clone(),
            width: length(other.width_mm),
            depth: length(other.height_mm),
            margin: length(other.margin_mm),
            trays: other.trays.to_string(),
        }
    }

    fn lengths(&mut self) -> [&mut Measured; 3] {
        [&mut self.width, &mut self.depth, &mut self.margin]
    }

    fn read(&self, reader: &mut Reader, place: usize) -> Option<OtherContainer> {
        let field = Field::Other(place);
        let width_mm = reader.length(field, &self.width, "The tray's width", 10.0, 10_000.0);
        let height_mm = reader.length(field, &self.depth, "The tray's depth", 10.0, 10_000.0);
        let margin_mm = reader.length(field, &self.margin, "The margin", 0.0, 1_000.0);
        let trays = reader.whole(field, &self.trays, "trays of this size", 1, 9999);
        Some(OtherContainer {
            name: self.name.trim().to_owned(),
            width_mm: width_mm?,
            height_mm: height_mm?,
            margin_mm: margin_mm?,
            trays: trays?,
        })
    }

    /// Draws the fields; returns whether the size is to go.
    fn ui(&mut self, ui: &mut Ui, place: usize, unit: LengthUnit) -> bool {
        let title = format!("Other size {}", place + 1);
        let named = |what: &str| format!("{title}: {what}");
        let mut goes = false;
        row(ui, &title, |ui| {
            let hint = "What you call it, such as Bread pan.";
            field(ui, &named("name"), &mut self.name, 110.0).on_hover_text(hint);
            let button = ui.button("Remove");
            let name = format!("Remove other size {}", place + 1);
            button.widget_info(|| WidgetInfo::labeled(Role::Button, true, &name));
            goes = button.clicked();
        });
        row(ui, "", |ui| {
            field(ui, &named("width"), &mut self.width.text, 76.0);
            ui.label("×");
            field(ui, &named("depth"), &mut self.depth.text, 76.0);
            quiet(ui, unit.sign());
        });
        row(ui, "", |ui| {
            field(ui, &named("margin"), &mut self.margin.text, 76.0);
            quiet(ui, &format!("{} margin", unit.sign()));
        });
        row(ui, "", |ui| {
            field(ui, &named("trays"), &mut self.trays, 60.0);
            quiet(ui, "trays of this size");
        });
        goes
    }
}

/// A design that can be made.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Design {
    pub name: String,
    pub plan: TrayPlan,
    pub recipe: Recipe,
    pub check_lot: String,
    pub seed: u64,
}

impl Design {
    /// Gives the design of a recorded test.
    pub fn of(test: &Test) -> Self {
        Self {
            name: test.name.clone(),
            plan: test.plan.clone(),
            recipe: test.recipe.clone(),
            check_lot: test.check_lot.clone(),
            seed: test.seed,
        }
    }

    /// Says whether both give the same trays for the same ears.
    pub fn has_same_trays(&self, other: &Self) -> bool {
        self.plan == other.plan && self.seed == other.seed
    }
}

/// What a form says.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reading {
    /// The design, when all fields can be read.
    pub design: Option<Design>,
    /// A sentence for each field that cannot.
    pub faults: Vec<(Field, String)>,
}

/// What was asked for beside typing.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Asked {
    /// Other units for the whole project.
    pub units: Option<Units>,
}

impl Draft {
    /// Fills a form with a design.
    pub fn new(design: &Design, units: Units) -> Self {
        let Design { plan, recipe, .. } = design;
        let length = |millimetres| Measured::new(write_length(millimetres, units.length), millimetres);
        let mut draft = Self {
            name: design.name.clone(),
            width: length(plan.width_mm),
            depth: length(plan.height_mm),
            cell_width: length(plan.cell_width_mm),
            cell_height: length(plan.cell_height_mm),
            margin: length(plan.margin_mm),
            aisle: length(plan.aisle_mm),
            others: plan
                .others
                .iter()
                .map(|other| OtherDraft::new(other, units.length))
                .collect(),
            spread: plan.spread,
            kernels: plan.kernels.to_string(),
            replicates: plan.replicates.to_string(),
            check_lot: design.check_lot.clone(),
            checks: plan.checks.to_string(),
            landmarks: plan.landmarks.to_string(),
            seed: design.seed.to_string(),
            temperature: Measured::default(),
            warm: Measured::default(),
            warm_from: String::new(),
            band: Measured::default(),
            early: String::new(),
            last: String::new(),
            water: number(recipe.water_every),
            medium: recipe.medium.clone(),
            units,
        };
        draft.fill_in(recipe);
        draft.band = recipe.band_c.map_or_else(Measured::default, |band| {
            Measured::new(write_difference(band, units.temperature), band)
        });
        draft
    }

    /// Writes temperatures and count days into their fields.
    fn fill_in(&mut self, recipe: &Recipe) {
        let unit = self.units.temperature;
        let temperature = |c: f64| Measured::new(write_temperature(c, unit), c);
        self.temperature = temperature(recipe.cold_c);
        self.warm = recipe
            .warm
            .map_or_else(Measured::default, |warm| temperature(warm.c));
        self.warm_from = number(recipe.warm.map(|warm| warm.from_day));
        self.early = number(recipe.early_day);
        self.last = recipe.final_day.to_string();
    }

    /// What kind of test the form describes; one with a temperature that cannot be read is taken for a cold one.
    fn kind(&self) -> Kind {
        if !self.warm.text.trim().is_empty() || !self.warm_from.trim().is_empty() {
            return Kind::ColdThenWarm;
        }
        let unit = self.units.temperature;
        let celsius = self.temperature.read(|text| read_temperature(text, unit));
        Kind::of(&Recipe {
            cold_c: celsius.unwrap_or_default(),
            warm: None,
            ..Recipe::default()
        })
    }

    /// Writes all lengths and temperatures in other units; what cannot be read stays as it was typed.
    pub fn convert(&mut self, units: Units) {
        let before = std::mem::replace(&mut self.units, units);
        if before.length != units.length {
            let own = [
                &mut self.width,
                &mut self.depth,
                &mut self.cell_width,
                &mut self.cell_height,
                &mut self.margin,
                &mut self.aisle,
            ];
            let others = self.others.iter_mut().flat_map(OtherDraft::lengths);
            for field in own.into_iter().chain(others) {
                if let Some(value) = field.read(|text| read_length(text, before.length)) {
                    *field = Measured::new(write_length(value, units.length), value);
                }
            }
        }
        if before.temperature != units.temperature {
            for field in [&mut self.temperature, &mut self.warm] {
                if let Some(value) = field.read_typed(|text| read_temperature(text, before.temperature)) {
                    *field = Measured::new(write_temperature(value, units.temperature), value);
                }
            }
            let band = &mut self.band;
            if let Some(value) = band.read_typed(|text| read_difference(text, before.temperature)) {
                *band = Measured::new(write_difference(value, units.temperature), value);
            }
        }
    }

    /// Gives the form another seed, which follows from the one it has. It has at most eight figures, so that it can
    /// be typed again.
    pub fn draw_again(&mut self) {
        let old = self.seed.trim().parse::<u64>().unwrap_or(0);
        self.seed = next_seed(old).to_string();
    }

    /// Reads the form.
    pub fn read(&self) -> Reading {
        let mut reader = Reader {
            units: self.units,
            faults: Vec::new(),
        };
        let design = self.read_with(&mut reader);
        Reading {
            design: if reader.faults.is_empty() { design } else { None },
            faults: reader.faults,
        }
    }

    fn read_with(&self, reader: &mut Reader) -> Option<Design> {
        if self.name.trim().is_empty() {
            reader.fault(Field::Name, "The test needs a name; type one.".to_owned());
        }
        let width = reader.length(Field::Width, &self.width, "The container's width", 10.0, 10_000.0);
        let depth = reader.length(Field::Depth, &self.depth, "The container's depth", 10.0, 10_000.0);
        let cell_width = reader.length(
            Field::CellWidth,
            &self.cell_width,
            "The cell's width",
            5.0,
            10_000.0,
        );
        let cell_height = reader.length(
            Field::CellHeight,
            &self.cell_height,
            "The cell's height",
            5.0,
            10_000.0,
        );
        let margin = reader.length(Field::Margin, &self.margin, "The margin", 0.0, 1_000.0);
        let aisle = reader.length(Field::Aisle, &self.aisle, "The aisle", 0.0, 1_000.0);
        let others: Vec<Option<OtherContainer>> = self
            .others
            .iter()
            .enumerate()
            .map(|(place, other)| other.read(reader, place))
            .collect();
        let most_kernels = u32::from(MOST_KERNELS_PER_CELL);
        let kernels = reader.whole(Field::Kernels, &self.kernels, "kernels per cell", 1, most_kernels);
        let replicates = reader.whole(
            Field::Replicates,
            &self.replicates,
            "replicates",
            1,
            u32::from(MOST_REPLICATES),
        );
        let checks = reader.whole(Field::Checks, &self.checks, "checks per tray", 0, 100);
        let landmarks = reader.whole(Field::Landmarks, &self.landmarks, "landmarks per tray", 0, 100);
        let seed = self.seed.trim().parse::<u64>().ok();
        if seed.is_none() {
            let text = format!(
                "'{}' is not a seed; type a whole number from 0 up.",
                self.seed.trim()
            );
            reader.fault(Field::Seed, text);
        }
        let cold_c = reader.temperature(Field::Temperature, &self.temperature, "the temperature");
        let final_day = reader.whole(Field::Final, &self.last, "the day of the final count", 1, 90);
        let early_day = if self.early.trim().is_empty() {
            Some(None)
        } else {
            let most = final_day.map_or(90, u32::from);
            let what = "the day of the early count";
            reader.whole(Field::Early, &self.early, what, 1, most).map(Some)
        };
        let last_day = final_day.map_or(90, u32::from);
        let warm = if self.kind() == Kind::ColdThenWarm {
            let c = reader.temperature(Field::Warm, &self.warm, "the temperature of the warm days");
            let what = "the first warm day";
            let from_day = reader.whole(Field::WarmFrom, &self.warm_from, what, 1, last_day);
            c.zip(from_day)
                .map(|(c, from_day)| Some(WarmDays { c, from_day }))
        } else {
            Some(None)
        };
        let band_c = if self.band.text.trim().is_empty() {
            Some(None)
        } else {
            reader.band(&self.band).map(Some)
        };
        let water_every = if self.water.trim().is_empty() {
            Some(None)
        } else {
            let what = "the days between two looks at the water";
            reader.whole(Field::Water, &self.water, what, 1, 90).map(Some)
        };
        let plan = TrayPlan {
            width_mm: width?,
            height_mm: depth?,
            margin_mm: margin?,
            cell_width_mm: cell_width?,
            cell_height_mm: cell_height?,
            kernels: kernels?,
            replicates: replicates?,
            checks: checks?,
            landmarks: landmarks?,
            aisle_mm: aisle?,
            spread: self.spread,
            others: others.into_iter().collect::<Option<Vec<_>>>()?,
        };
        reader.room(&plan);
        Some(Design {
            name: self.name.trim().to_owned(),
            plan,
            recipe: Recipe {
                cold_c: cold_c?,
                early_day: early_day?,
                final_day: final_day?,
                medium: self.medium.trim().to_owned(),
                warm: warm?,
                band_c: band_c?,
                water_every: water_every?,
            },
            check_lot: self.check_lot.trim().to_owned(),
            seed: seed?,
        })
    }

    /// Draws the form.
    pub fn ui(&mut self, ui: &mut Ui, faults: &[(Field, String)]) -> Asked {
        let mut asked = Asked::default();
        row(ui, "Name", |ui| {
            field(ui, "Name of the test", &mut self.name, 176.0);
        });
        said(ui, faults, &[Field::Name]);
        row(ui, "Units", |ui| asked.units = unit_switches(ui, self.units));
        let length = self.units.length.sign();
        row(ui, "Container", |ui| {
            field(ui, "Container width", &mut self.width.text, 76.0);
            ui.label("×");
            field(ui, "Container depth", &mut self.depth.text, 76.0);
            quiet(ui, length);
        });
        said(ui, faults, &[Field::Width, Field::Depth]);
        row(ui, "Cell", |ui| {
            field(ui, "Cell width", &mut self.cell_width.text, 76.0);
            ui.label("×");
            field(ui, "Cell height", &mut self.cell_height.text, 76.0);
            quiet(ui, length);
        });
        said(ui, faults, &[Field::CellWidth, Field::CellHeight]);
        row(ui, "Margin", |ui| {
            field(ui, "Margin on each side", &mut self.margin.text, 76.0);
            quiet(ui, &format!("{length} on each side"));
        });
        said(ui, faults, &[Field::Margin]);
        row(ui, "Aisle", |ui| {
            let hint = "A strip without kernels between neighbouring cells, so that roots do not cross.";
            field(ui, "Aisle between cells", &mut self.aisle.text, 76.0).on_hover_text(hint);
            quiet(ui, &format!("{length} between cells"));
        });
        said(ui, faults, &[Field::Aisle]);
        self.others_ui(ui, faults);
        row(ui, "Kernels", |ui| {
            field(ui, "Kernels per cell", &mut self.kernels, 60.0);
            quiet(ui, "per cell");
        });
        said(ui, faults, &[Field::Kernels]);
        row(ui, "Replicates", |ui| {
            field(ui, "Replicates", &mut self.replicates, 60.0);
            quiet(ui, "cells of each ear");
        });
        said(ui, faults, &[Field::Replicates]);
        if self.replicates.trim() != "1" {
            row(ui, "Spread", |ui| self.spread_ui(ui));
        }
        row(ui, "Check lot", |ui| {
            field(ui, "Check lot name", &mut self.check_lot, 176.0);
        });
        row(ui, "Checks", |ui| {
            field(ui, "Checks per tray", &mut self.checks, 60.0);
            quiet(ui, "cells per tray");
        });
        said(ui, faults, &[Field::Checks]);
        row(ui, "Landmarks", |ui| {
            field(ui, "Landmarks per tray", &mut self.landmarks, 60.0);
            quiet(ui, "cells per tray");
        });
        said(ui, faults, &[Field::Landmarks]);
        row(ui, "Seed", |ui| {
            field(ui, "Seed", &mut self.seed, 84.0);
            let hint = "Another seed, which follows from this one. The same seed gives the same trays.";
            if ui.button("Draw again").on_hover_text(hint).clicked() {
                self.draw_again();
            }
        });
        said(ui, faults, &[Field::Seed]);
        self.recipe_ui(ui, faults);
        row(ui, "Medium", |ui| {
            field(ui, "Medium", &mut self.medium, 176.0)
                .on_hover_text("What the kernels lie on, such as two wet cloths.");
        });
        asked
    }

    fn spread_ui(&mut self, ui: &mut Ui) {
        let spreads = [Spread::Blocks, Spread::Anywhere];
        let now = spreads.iter().position(|one| *one == self.spread).unwrap_or(0);
        let id = Id::unique("trays spread");
        let switch = ui.scope(|ui| {
            segmented(
                ui,
                id,
                "Spread of the cells of an ear",
                &["In blocks", "Anywhere"],
                now,
            )
        });
        let hint = match self.spread {
            Spread::Blocks => "Each replicate is a block of trays of its own, in which every ear lies once.",
            Spread::Anywhere => {
                "The cells of an ear lie anywhere, but never two of them in one tray. It takes fewer trays."
            }
        };
        switch.response.on_hover_text(hint);
        if let Some(new) = switch.inner {
            self.spread = spreads[new];
        }
    }

    /// Trays of other sizes, which are used first.
    fn others_ui(&mut self, ui: &mut Ui, faults: &[(Field, String)]) {
        let unit = self.units.length;
        let mut gone = None;
        for (place, other) in self.others.iter_mut().enumerate() {
            if other.ui(ui, place, unit) {
                gone = Some(place);
            }
            said(ui, faults, &[Field::Other(place)]);
        }
        if let Some(place) = gone {
            self.others.remove(place);
        }
        if self.others.len() >= MOST_OTHER_CONTAINERS {
            return;
        }
        row(ui, "", |ui| {
            let hint = "Trays of another size that you have some of. They are used first, the container above after them. All have cells of the same size.";
            if ui
                .button("Add another size of tray")
                .on_hover_text(hint)
                .clicked()
            {
                let length = |typed: &Measured, usual: f64| {
                    typed.read(|text| read_length(text, unit)).unwrap_or(usual)
                };
                let usual = TrayPlan::default();
                let like_the_container = OtherContainer {
                    name: String::new(),
                    width_mm: length(&self.width, usual.width_mm),
                    height_mm: length(&self.depth, usual.height_mm),
                    margin_mm: length(&self.margin, usual.margin_mm),
                    trays: 1,
                };
                self.others.push(OtherDraft::new(&like_the_container, unit));
            }
        });
    }

    fn recipe_ui(&mut self, ui: &mut Ui, faults: &[(Field, String)]) {
        let kind = self.kind();
        let now = Kind::ALL.iter().position(|one| *one == kind).unwrap_or_default();
        let id = Id::unique("trays kind of test");
        let switch = ui.scope(|ui| segmented(ui, id, "Kind of test", &Kind::NAMES, now));
        let hint = "Choosing another kind fills in temperatures and days to begin with.";
        switch.response.on_hover_text(format!("{} {hint}", kind.hint()));
        if let Some(new) = switch.inner {
            self.fill_in(&Kind::ALL[new].usual());
        }
        let kind = self.kind();
        let degrees = self.units.temperature.sign();
        row(ui, if kind == Kind::Warm { "Warm" } else { "Cold" }, |ui| {
            field(ui, "Temperature", &mut self.temperature.text, 60.0);
            quiet(ui, degrees);
        });
        said(ui, faults, &[Field::Temperature]);
        if kind == Kind::ColdThenWarm {
            row(ui, "Then warm", |ui| {
                field(ui, "Temperature of the warm days", &mut self.warm.text, 60.0);
                quiet(ui, degrees);
                quiet(ui, "from day");
                field(ui, "First warm day", &mut self.warm_from, 44.0);
            });
            said(ui, faults, &[Field::Warm, Field::WarmFrom]);
        }
        row(ui, "Band", |ui| {
            let usual = write_difference(USUAL_BAND_C, self.units.temperature);
            let hint = format!(
                "How far the temperature may be from the wanted one before a log counts it as outside. Empty for {usual} {degrees}."
            );
            quiet(ui, "±");
            let edit = TextEdit::singleline(&mut self.band.text)
                .id(Id::unique(("trays form", "Band")))
                .hint_text(&usual)
                .desired_width(56.0);
            ui.add(edit)
                .accessible_name("Band around the temperature")
                .on_hover_text(hint);
            quiet(ui, degrees);
        });
        said(ui, faults, &[Field::Band]);
        row(ui, "Water", |ui| {
            let hint = "The calendar reminds you to look at the water. Leave it empty for no reminder.";
            quiet(ui, "every");
            field(ui, "Days between two looks at the water", &mut self.water, 44.0).on_hover_text(hint);
            quiet(ui, "days");
        });
        said(ui, faults, &[Field::Water]);
        row(ui, "Count days", |ui| {
            let hint = "Days after laying. Leave it empty for a test without an early count.";
            field(ui, "Day of the early count", &mut self.early, 52.0).on_hover_text(hint);
            quiet(ui, "early");
            field(ui, "Day of the final count", &mut self.last, 52.0);
            quiet(ui, "final");
        });
        said(ui, faults, &[Field::Early, Field::Final]);
    }
}

/// Writes a number that may be missing.
fn number(number: Option<u16>) -> String {
    number.map_or_else(String::new, |number| number.to_string())
}

struct Reader {
    units: Units,
    faults: Vec<(Field, String)>,
}

impl Reader {
    fn fault(&mut self, field: Field, text: String) {
        self.faults.push((field, text));
    }

    fn length(&mut self, field: Field, typed: &Measured, what: &str, least: f64, most: f64) -> Option<f64> {
        let unit = self.units.length;
        let example = match unit {
            LengthUnit::Inches => "1 1/4 or 1.25",
            LengthUnit::Centimetres => "3.2",
        };
        let Some(value) = typed.read(|text| read_length(text, unit)) else {
            let text = typed.text.trim();
            let sentence = if text.is_empty() {
                format!(
                    "{what} is empty; type a length in {} such as {example}.",
                    unit.sign()
                )
            } else {
                format!(
                    "'{text}' is not a length; type it in {} such as {example}.",
                    unit.sign()
                )
            };
            self.fault(field, sentence);
            return None;
        };
        if !(least..=most).contains(&value) {
            let bound = |millimetres: f64| {
                crate::ui::widgets::number_field::written(millimetres / unit.millimetres(), 1)
            };
            let sentence = format!(
                "{what} must be from {} to {} {}; correct it.",
                bound(least),
                bound(most),
                unit.sign()
            );
            self.fault(field, sentence);
            return None;
        }
        Some(value)
    }

    fn whole(&mut self, field: Field, typed: &str, what: &str, least: u32, most: u32) -> Option<u16> {
        let number = read_whole(what, typed, most)
            .ok()
            .filter(|number| *number >= least);
        let Some(number) = number else {
            let text = typed.trim();
            let sentence = format!("'{text}' cannot be {what}; type a whole number from {least} to {most}.");
            self.fault(field, sentence);
            return None;
        };
        u16::try_from(number).ok()
    }

    fn temperature(&mut self, field: Field, typed: &Measured, what: &str) -> Option<f64> {
        let unit = self.units.temperature;
        let value = typed.read(|text| read_temperature(text, unit));
        let value = value.filter(|celsius| (-5.0..=45.0).contains(celsius));
        if value.is_none() {
            let sentence = format!(
                "'{}' cannot be {what}; type a number from {} to {} {}.",
                typed.text.trim(),
                write_temperature(-5.0, unit),
                write_temperature(45.0, unit),
                unit.sign()
            );
            self.fault(field, sentence);
        }
        value
    }

    /// Reads how far the temperature may be from the wanted one.
    fn band(&mut self, typed: &Measured) -> Option<f64> {
        let unit = self.units.temperature;
        let value = typed.read(|text| read_difference(text, unit));
        let value = value.filter(|celsius| (0.1..=20.0).contains(celsius));
        if value.is_none() {
            let sentence = format!(
                "'{}' cannot be the band; type a number from {} to {} {}, or nothing for the usual one.",
                typed.text.trim(),
                write_difference(0.1, unit),
                write_difference(20.0, unit),
                unit.sign()
            );
            self.fault(Field::Band, sentence);
        }
        value
    }

    /// Says in the grower's unit when not one cell fits.
    fn room(&mut self, plan: &TrayPlan) {
        let own = [Field::Margin, Field::CellWidth, Field::CellHeight];
        self.room_of(plan, own, [plan.width_mm, plan.height_mm, plan.margin_mm]);
        for (place, other) in plan.others.iter().enumerate() {
            let lengths = [other.width_mm, other.height_mm, other.margin_mm];
            self.room_of(plan, [Field::Other(place); 3], lengths);
        }
    }

    /// [`Reader::room`] of one container: its width, depth and margin.
    fn room_of(&mut self, plan: &TrayPlan, fields: [Field; 3], [width, height, margin]: [f64; 3]) {
        let unit = self.units.length;
        if 2.0 * margin >= width.min(height) {
            let sentence = "The margins leave no room for cells; use a smaller margin or a larger container.";
            self.fault(fields[0], sentence.to_owned());
            return;
        }
        let sides = [
            (fields[1], width, plan.cell_width_mm, "wide", "width"),
            (fields[2], height, plan.cell_height_mm, "high", "depth"),
        ];
        for (field, container, cell, how, side) in sides {
            let room = container - 2.0 * margin;
            if cell > room * 1.000_001 {
                let sentence = format!(
                    "A cell {} {sign} {how} does not fit into the {} {sign} of {side} between the margins; use a smaller cell or a larger container.",
                    write_length(cell, unit),
                    crate::ui::widgets::number_field::written(room / unit.millimetres(), 2),
                    sign = unit.sign(),
                );
                self.fault(field, sentence);
            }
        }
    }
}

fn row(ui: &mut Ui, label: &str, content: impl FnOnce(&mut Ui)) {
    ui.horizontal(|ui| {
        let (rect, _) =
            ui.allocate_exact_size(vec2(84.0, ui.spacing().interact_size.y), egui::Sense::hover());
        let t = Tokens::of(ui);
        let at = rect.left_center();
        ui.painter()
            .text(at, egui::Align2::LEFT_CENTER, label, t.body_font(), t.text);
        content(ui);
    });
}

fn field(ui: &mut Ui, name: &str, text: &mut String, width: f32) -> Response {
    let edit = TextEdit::singleline(text)
        .id(Id::unique(("trays form", name)))
        .desired_width(width);
    ui.add(edit).accessible_name(name)
}

fn quiet(ui: &mut Ui, text: &str) {
    let t = Tokens::of(ui);
    ui.label(RichText::new(text).color(t.quiet));
}

/// Says what is wrong with the fields of a row.
fn said(ui: &mut Ui, faults: &[(Field, String)], fields: &[Field]) {
    for (_, text) in faults.iter().filter(|(field, _)| fields.contains(field)) {
        alert(ui, text);
    }
}

/// A sentence about something that is wrong.
fn unit_switches(ui: &mut Ui, units: Units) -> Option<Units> {
    let lengths = [LengthUnit::Inches, LengthUnit::Centimetres];
    let temperatures = [TemperatureUnit::Fahrenheit, TemperatureUnit::Celsius];
    let length = usize::from(units.length == LengthUnit::Centimetres);
    let temperature = usize::from(units.temperature == TemperatureUnit::Celsius);
    let id = Id::unique("trays units");
    let new_length = segmented(
        ui,
        id.with("length"),
        "Unit of lengths",
        &lengths.map(LengthUnit::sign),
        length,
    );
    let new_temperature = segmented(
        ui,
        id.with("temperature"),
        "Unit of temperatures",
        &temperatures.map(TemperatureUnit::sign),
        temperature,
    );
    if new_length.is_none() && new_temperature.is_none() {
        return None;
    }
    Some(Units {
        length: new_length.map_or(units.length, |new| lengths[new]),
        temperature: new_temperature.map_or(units.temperature, |new| temperatures[new]),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draft() -> Draft {
        let design = Design {
            name: "Test 1".to_owned(),
            plan: TrayPlan::default(),
            recipe: Recipe::default(),
            check_lot: String::new(),
            seed: 7,
        };
        Draft::new(&design, Units::default())
    }

    #[test]
    fn a_form_gives_back_the_design_it_was_filled_with_in_any_units() {
        let mut draft = draft();
        let before = draft.read().design.unwrap();
        for length in [LengthUnit::Centimetres, LengthUnit::Inches] {
            for temperature in [TemperatureUnit::Celsius, TemperatureUnit::Fahrenheit] {
                draft.convert(Units { length, temperature });
                assert_eq!(draft.read().design.as_ref(), Some(&before));
            }
        }
        assert_eq!(before.plan, TrayPlan::default());
        assert_eq!(before.recipe, Recipe::default());
    }

    #[test]
    fn a_recipe_with_warm_days_comes_back_in_any_units_and_faults_are_said() {
        let recipe = Recipe {
            cold_c: 10.0,
            early_day: None,
            final_day: 14,
            warm: Some(WarmDays { c: 25.0, from_day: 7 }),
            band_c: Some(1.1),
            water_every: Some(2),
            ..Recipe::default()
        };
        let design = Design {
            recipe: recipe.clone(),
            ..draft().read().design.unwrap()
        };
        let mut draft = Draft::new(&design, Units::default());
        assert_eq!(draft.kind(), Kind::ColdThenWarm);
        assert_eq!((draft.warm.text.as_str(), draft.band.text.as_str()), ("77", "2"));
        for temperature in [TemperatureUnit::Celsius, TemperatureUnit::Fahrenheit] {
            draft.convert(Units {
                temperature,
                ..Units::default()
            });
            assert_eq!(draft.read().design.unwrap().recipe, recipe);
        }
        draft.warm_from = "15".to_owned();
        draft.warm.text = "boiling".to_owned();
        draft.band.text = "0".to_owned();
        draft.water = "0".to_owned();
        let reading = draft.read();
        let fields: Vec<Field> = reading.faults.iter().map(|(field, _)| *field).collect();
        assert_eq!(fields, [Field::Warm, Field::WarmFrom, Field::Band, Field::Water]);
        assert!(
            reading.faults[1].1.contains("type a whole number from 1 to 14"),
            "{reading:?}"
        );
        // An empty band and no looks at the water are no faults, and half a warm part is.
        draft.band.text = " ".to_owned();
        draft.water = String::new();
        draft.warm_from = String::new();
        draft.warm.text = "77".to_owned();
        let fields: Vec<Field> = draft.read().faults.iter().map(|(field, _)| *field).collect();
        assert_eq!(fields, [Field::WarmFrom]);
        draft.warm.text = String::new();
        let recipe = draft.read().design.unwrap().recipe;
        assert_eq!(
            (recipe.warm, recipe.band_c, recipe.water_every),
            (None, None, None)
        );
    }

    #[test]
    fn each_kind_of_test_is_what_it_fills_in() {
        let mut draft = draft();
        for kind in Kind::ALL {
            draft.fill_in(&kind.usual());
            assert_eq!(draft.kind(), kind);
            let recipe = draft.read().design.unwrap().recipe;
            assert_eq!(recipe, kind.usual());
        }
    }

    #[test]
    fn other_sizes_aisle_and_spread_come_back_in_any_units_and_faults_are_said() {
        let other = |name: &str, width_mm: f64, trays| OtherContainer {
            name: name.to_owned(),
            width_mm,
            height_mm: 200.0,
            margin_mm: 5.0,
            trays,
        };
        let plan = TrayPlan {
            aisle_mm: 6.35,
            spread: Spread::Anywhere,
            replicates: 2,
            others: vec![other("Bread pan", 279.4, 3), other("", 333.3, 1)],
            ..TrayPlan::default()
        };
        let design = Design {
            plan: plan.clone(),
            ..draft().read().design.unwrap()
        };
        let mut draft = Draft::new(&design, Units::default());
        assert_eq!(
            (draft.aisle.text.as_str(), draft.others[0].width.text.as_str()),
            ("1/4", "11")
        );
        for length in [LengthUnit::Centimetres, LengthUnit::Inches] {
            draft.convert(Units {
                length,
                ..Units::default()
            });
            assert_eq!(draft.read().design.unwrap().plan, plan);
        }
        draft.aisle.text = "-1".to_owned();
        draft.others[0].trays = "0".to_owned();
        draft.others[1].width.text = "?".to_owned();
        let fields: Vec<Field> = draft.read().faults.iter().map(|(field, _)| *field).collect();
        assert_eq!(fields, [Field::Aisle, Field::Other(0), Field::Other(1)]);
        draft.aisle.text = "0".to_owned();
        draft.others[0].trays = "1".to_owned();
        draft.others[1].width.text = "2".to_owned();
        let reading = draft.read();
        assert_eq!(
            reading.faults,
            [(
                Field::Other(1),
                "A cell 2 in wide does not fit into the 1.61 in of width between the margins; use a smaller cell or a larger container.".to_owned()
            )]
        );
    }

    #[test]
    fn what_cannot_be_read_is_said_for_its_field() {
        let mut draft = draft();
        draft.width.text = "wide".to_owned();
        draft.kernels = "0".to_owned();
        draft.early = "13".to_owned();
        let reading = draft.read();
        assert_eq!(reading.design, None);
        let fields: Vec<Field> = reading.faults.iter().map(|(field, _)| *field).collect();
        assert_eq!(fields, [Field::Width, Field::Kernels, Field::Early]);
        assert!(
            reading.faults[0].1.starts_with("'wide' is not a length"),
            "{reading:?}"
        );
    }

    #[test]
    fn a_cell_larger_than_the_container_is_refused_in_the_grower_s_unit() {
        let mut draft = draft();
        draft.cell_height.text = "13".to_owned();
        let reading = draft.read();
        let sentence = "A cell 13 in high does not fit into the 12 in of depth between the margins; use a smaller cell or a larger container.";
        assert_eq!(reading.faults, [(Field::CellHeight, sentence.to_owned())]);
        assert_eq!(reading.design, None);
    }

    #[test]
    fn drawing_again_gives_another_seed_that_can_be_repeated() {
        let (mut one, mut two) = (draft(), draft());
        let mut seen = std::collections::BTreeSet::from([one.seed.clone()]);
        for _ in 0..1000 {
            one.draw_again();
            two.draw_again();
            assert_eq!(one.seed, two.seed);
            assert!(one.seed.len() <= 8);
            seen.insert(one.seed.clone());
        }
        assert!(seen.len() > 990, "{} different seeds", seen.len());
    }
}
