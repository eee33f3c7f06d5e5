//! Cutoffs on traits, and what each cutoff leaves out by itself.

use crate::insight::Summary;
use crate::model::{Cutoffs, Limits, Project, Trait};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use egui::{Id, Label, RichText, Ui};

/// Width of a field in points.
const FIELD: f32 = 56.0;

/// Names the part.
pub fn title(set: &Cutoffs) -> String {
    match set.traits.values().filter(|one| is_set(one)).count() {
        0 => "All cutoffs".to_owned(),
        many => format!("All cutoffs, {many} on traits"),
    }
}

fn is_set(limits: &Limits) -> bool {
    limits.least.is_some() || limits.most.is_some()
}

/// Draws the part. Gives the cutoffs as the grower wants them, where a limit was typed.
pub fn ui(
    ui: &mut Ui,
    project: &Project,
    summary: &Summary,
    set: &Cutoffs,
    is_free: bool,
) -> Option<Cutoffs> {
    let t = Tokens::of(ui);
    let mut wanted = set.clone();
    let mut alone: Vec<_> = summary.alone.iter().collect();
    alone.sort_by_key(|one| std::cmp::Reverse((one.left_out, one.undecided)));
    if !alone.is_empty() {
        ui.label(RichText::new("By itself, the one that costs most first").font(t.strong_font()));
    }
    for one in alone {
        let text = crate::model::sentence(&one.sentence(project));
        ui.add(Label::new(RichText::new(text).font(t.small_font())).wrap());
    }
    if project.traits.is_empty() {
        let text = "There are no traits yet. Note some in Harvest, and limits on them can be set here.";
        ui.add(Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
    } else {
        ui.add_enabled_ui(is_free, |ui| {
            for one in project.traits.iter() {
                if has_room(ui, one) {
                    ui.horizontal(|ui| fields(ui, one, &mut wanted));
                } else {
                    ui.vertical(|ui| fields(ui, one, &mut wanted));
                }
            }
        });
    }
    (wanted != *set).then_some(wanted)
}

/// Whether both fields of a trait have room side by side.
fn has_room(ui: &Ui, one: &Trait) -> bool {
    let t = Tokens::of(ui);
    let text = format!("{0} at least {1} {0} at most {1}", one.name, one.unit);
    let text = ui.painter().layout_no_wrap(text, t.body_font(), t.text);
    text.size().x + 2.0 * FIELD + 5.0 * t.space.medium < ui.available_width()
}

/// The least and the greatest value of a trait; an empty field is no limit.
fn fields(ui: &mut Ui, one: &Trait, cutoffs: &mut Cutoffs) {
    let mut limits = cutoffs.traits.get(&one.id).copied().unwrap_or_default();
    let field = |name: &'static str, label| {
        NumberField::new(Id::unique((name, one.id)), label)
            .decimals(usize::from(one.decimals))
            .width(FIELD)
    };
    let (least, most) = (format!("{} at least", one.name), format!("{} at most", one.name));
    field("least of a trait", &least)
        .range(f64::MIN..=limits.most.unwrap_or(f64::MAX))
        .unit(&one.unit)
        .show_optional(ui, &mut limits.least);
    field("most of a trait", &most)
        .range(limits.least.unwrap_or(f64::MIN)..=f64::MAX)
        .unit(&one.unit)
        .show_optional(ui, &mut limits.most);
    if is_set(&limits) {
        cutoffs.traits.insert(one.id, limits);
    } else {
        cutoffs.traits.remove(&one.id);
    }
}
