//! What the choice costs and buys, in figures that move with the cutoff lines.

use crate::insight::{Choice, KeptAndAll, Price, Summary};
use crate::model::{Season, ShareRange};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::big_number;
use egui::{Id, Label, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo};

/// More plants than any plot has.
const MOST_POLLEN_PLANTS: f64 = 10_000_000.0;

/// Draws the big figures in one line. A screen reader hears them as one sentence.
pub fn headline(ui: &mut Ui, choice: &Choice) {
    let summary = &choice.summary;
    let row = ui.horizontal(|ui| {
        let t = Tokens::of(ui);
        ui.spacing_mut().item_spacing.x = t.space.large;
        big_number(
            ui,
            &summary.kept.to_string(),
            &format!("of {} ears kept", summary.ears),
        );
        big_number(
            ui,
            &summary.mothers_kept.to_string(),
            &format!("of {} mothers kept", summary.mothers),
        );
        big_number(
            ui,
            &format!("{:.1}", summary.effective_mothers),
            "effective mothers",
        );
        if let (Some(below), Some(cutoff)) = (summary.expected_below, choice.cutoffs.germination_percent) {
            big_number(
                ui,
                &format!("{below:.1}"),
                &format!("of them likely below {cutoff} %"),
            );
        }
    });
    let whole = ui.interact(row.response.rect, Id::unique("selection summary"), Sense::hover());
    whole.widget_info(|| WidgetInfo::labeled(Role::Status, true, summary.sentence()));
}

/// A figure: what it is, and its value.
type Fact = (&'static str, String);

/// Draws the other figures side by side, and what must be known beside them.
pub fn details(ui: &mut Ui, summary: &Summary) {
    let t = Tokens::of(ui);
    let facts = facts(summary);
    let in_line = if ui.available_width() < 480.0 { 2 } else { 4 };
    for facts in facts.chunks(in_line) {
        ui.columns(in_line, |columns| {
            for (ui, (what, value)) in columns.iter_mut().zip(facts) {
                ui.spacing_mut().item_spacing.y = 0.0;
                ui.label(RichText::new(*what).font(t.small_font()).color(t.quiet));
                ui.add(Label::new(RichText::new(value).font(t.strong_font())).truncate());
            }
        });
    }
    for remark in summary.remarks() {
        ui.add(Label::new(RichText::new(remark).font(t.small_font()).color(t.quiet)).truncate());
    }
}

/// Names the part that says what the choice costs and buys.
pub fn title(price: &Price) -> String {
    match price.comes_along().count() {
        0 => "Costs and buys".to_owned(),
        many => format!("Costs and buys, {many} unasked"),
    }
}

/// Draws what the choice costs and buys in sentences. With a greatest height it scrolls within it. Gives the season as
/// the grower wants it, where a number was typed.
pub fn sentences(
    ui: &mut Ui,
    price: &Price,
    season: Option<&Season>,
    most_height: Option<f32>,
) -> Option<Season> {
    let Some(height) = most_height else {
        return all_sentences(ui, price, season);
    };
    ScrollArea::vertical()
        .id_salt("costs and buys")
        .max_height(height)
        .auto_shrink([false, true])
        .show(ui, |ui| all_sentences(ui, price, season))
        .inner
}

fn all_sentences(ui: &mut Ui, price: &Price, season: Option<&Season>) -> Option<Season> {
    ui.spacing_mut().item_spacing.y = Tokens::of(ui).space.small / 2.0;
    part(ui, "It buys", &price.buys());
    part(ui, "It costs", &price.costs());
    shifts(ui, price);
    part(ui, "Taken for granted", &price.assumptions());
    season.and_then(|season| beliefs(ui, season))
}

/// What the grower knows better than the counts, typed as numbers; an empty field leaves it to them.
fn beliefs(ui: &mut Ui, season: &Season) -> Option<Season> {
    heading(ui, "If you know better");
    let mut after = season.clone();
    let field =
        |name: &'static str, label| NumberField::new(Id::unique((name, season.id)), label).width(56.0);
    ui.horizontal_wrapped(|ui| {
        let range = season.heritability;
        let mut least = range.map(|range| 100.0 * range.least);
        let mut most = range.map(|range| 100.0 * range.most);
        let share = |name, label, range| field(name, label).unit("%").decimals(1).range(range);
        let from_typed = share(
            "heritability from",
            "Heritability from",
            0.0..=most.unwrap_or(100.0),
        )
        .show_optional(ui, &mut least);
        let to_typed =
            share("heritability to", "to", least.unwrap_or(0.0)..=100.0).show_optional(ui, &mut most);
        if from_typed || to_typed {
            after.heritability = narrowed(least, most);
        }
    });
    let mut plants = season.pollen_plants.map(f64::from);
    let pollen = field("pollen plants", "Plants that shed pollen").range(1.0..=MOST_POLLEN_PLANTS);
    if pollen.show_optional(ui, &mut plants) {
        after.pollen_plants = plants.map(|plants| plants as u32);
    }
    (after != *season).then_some(after)
}

/// The range from both fields; one of them alone leaves the other end open.
fn narrowed(least: Option<f64>, most: Option<f64>) -> Option<ShareRange> {
    (least.is_some() || most.is_some()).then(|| ShareRange {
        least: least.unwrap_or(0.0) / 100.0,
        most: most.unwrap_or(100.0) / 100.0,
    })
}

fn part(ui: &mut Ui, title: &str, sentences: &[String]) {
    if sentences.is_empty() {
        return;
    }
    heading(ui, title);
    let small = Tokens::of(ui).small_font();
    for sentence in sentences {
        ui.add(Label::new(RichText::new(sentence).font(small.clone())).wrap());
    }
}

fn heading(ui: &mut Ui, title: &str) {
    let t = Tokens::of(ui);
    ui.label(RichText::new(title).font(t.strong_font()));
}

fn shifts(ui: &mut Ui, price: &Price) {
    if price.shifts.is_empty() {
        return;
    }
    let t = Tokens::of(ui);
    heading(ui, "Kept against all");
    for one in &price.shifts {
        let colour = if one.comes_along() { t.warn } else { t.text };
        let text = RichText::new(one.sentence()).font(t.small_font()).color(colour);
        ui.add(Label::new(text).wrap());
    }
}

fn facts(summary: &Summary) -> Vec<Fact> {
    let percent = |value: f64| format!("{value:.0} %");
    let days = |value: f64| format!("{value:.1}");
    vec![
        ("Likely, of the kept", beside(summary.likely_percent, percent)),
        ("Maturity days", beside(summary.maturity_days, days)),
        ("Observed", beside(summary.observed_percent, percent)),
        ("Seed", seed(summary)),
    ]
}

/// The mean of the kept beside that of all: `83 %, all 68 %`.
fn beside(means: KeptAndAll, write: impl Fn(f64) -> String) -> String {
    match (means.kept, means.all) {
        (Some(kept), Some(all)) => format!("{}, all {}", write(kept), write(all)),
        (None, Some(all)) => format!("none, all {}", write(all)),
        (_, None) => "not known".to_owned(),
    }
}

/// Whether the packets have enough; of two shortcomings the worse, as the remarks tell both.
fn seed(summary: &Summary) -> String {
    if summary.kept == 0 {
        return "nothing to plant".to_owned();
    }
    if !summary.short.is_empty() {
        return format!("short for {}", summary.short.len());
    }
    if !summary.uncounted.is_empty() {
        return format!("not counted: {}", summary.uncounted.len());
    }
    "enough for all".to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::EarId;

    #[test]
    fn seed_is_told_in_words() {
        let mut summary = Summary::default();
        assert_eq!(seed(&summary), "nothing to plant");
        summary.kept = 3;
        assert_eq!(seed(&summary), "enough for all");
        summary.uncounted = vec![EarId(3)];
        assert_eq!(seed(&summary), "not counted: 1");
        summary.short = vec![EarId(1), EarId(2)];
        assert_eq!(seed(&summary), "short for 2");
    }

    #[test]
    fn a_mean_that_is_not_known_is_not_zero() {
        let write = |value: f64| format!("{value:.0}");
        let means = |kept, all| KeptAndAll { kept, all };
        assert_eq!(beside(means(Some(80.0), Some(60.0)), write), "80, all 60");
        assert_eq!(beside(means(None, Some(60.0)), write), "none, all 60");
        assert_eq!(beside(means(None, None), write), "not known");
    }
}
