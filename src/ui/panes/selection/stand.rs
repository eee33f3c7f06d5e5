//! The kernels of each kept ear for the plants that are wanted of it: what is wanted, and what each ear gives.

use super::shares::ear_rows;
use super::table::chance;
use crate::insight::{EarSowing, EarlierField, MOST_OF_AN_EAR, Sowings};
use crate::model::{Command, Season, SeasonId, Sowing};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use egui::{Id, Label, RichText, Role, Ui, WidgetInfo};

/// Columns of the table with their widths, in parts of the text's height.
const COLUMNS: [(&str, f32); 6] = [
    ("Ear", 2.5),
    ("Needs", 3.5),
    ("Plant", 3.0),
    ("Likely plants", 7.5),
    ("Sure", 4.5),
    ("Limited by", 6.0),
];

/// So many earlier fields are told of.
const TOLD_FIELDS: usize = 3;

/// Draws what is wanted and what it comes to.
pub(super) fn ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, sowings: &Sowings) {
    let t = Tokens::of(ui);
    let is_free = ctx.read_only.is_none();
    let record = ctx.document.project().seasons.get(season);
    let earlier = ctx.insight.earlier_fields(ctx.document, season);
    let wanted = ui
        .add_enabled_ui(is_free, |ui| fields(ui, sowings.wanted, &earlier))
        .inner;
    if let Some(record) = record.filter(|_| wanted != sowings.wanted) {
        ctx.act(Action::CloseStep);
        ctx.run(Command::EditSeason(Season {
            sowing: Some(wanted),
            ..record.clone()
        }));
        ctx.act(Action::CloseStep);
    }
    if let Some(refusal) = &sowings.refusal {
        let said = ui.add(Label::new(RichText::new(format!("⚠ {refusal}")).color(t.warn)).wrap());
        said.widget_info(|| WidgetInfo::labeled(Role::Alert, true, refusal));
        return;
    }
    let shortfall = sowings.shortfall();
    for sentence in sowings.sentences() {
        let (mark, ink) = if shortfall.as_ref() == Some(&sentence) {
            ("⚠ ", t.warn)
        } else {
            ("", t.text)
        };
        let text = RichText::new(format!("{mark}{sentence}"))
            .font(t.small_font())
            .color(ink);
        ui.add(Label::new(text).wrap());
    }
    let text = RichText::new(sowings.assumptions())
        .font(t.small_font())
        .color(t.quiet);
    ui.add(Label::new(text).wrap());
    table(ui, ctx, sowings);
}

/// The fields of what is wanted, and what earlier fields say of the field factor.
fn fields(ui: &mut Ui, before: Sowing, earlier: &[EarlierField]) -> Sowing {
    let mut wanted = before;
    let field = |name: &'static str, label: &'static str, [least, most]: [f64; 2]| {
        NumberField::new(Id::unique(name), label)
            .range(least..=most)
            .width(56.0)
    };
    let most = f64::from(Sowing::MOST_PLANTS);
    let plants = field("wanted plants", "Plants in each row", [1.0, most]);
    let sureness = field(
        "wanted sureness",
        "With a probability of",
        Sowing::SURENESS.map(|share| 100.0 * share),
    );
    ui.horizontal(|ui| {
        if let Some(plants) = plants.show(ui, f64::from(before.plants)) {
            wanted.plants = plants as u32;
        }
        if let Some(percent) = sureness.decimals(1).unit("%").show(ui, 100.0 * before.sureness) {
            wanted.sureness = percent / 100.0;
        }
    });
    let factor = field("field factor", "Field factor", Sowing::FIELD_FACTOR);
    if let Some(factor) = factor.decimals(2).show(ui, before.field_factor) {
        wanted.field_factor = factor;
    }
    if let Some(latest) = earlier.first() {
        // As it is said, so that the button gives what stands on it.
        let [least, most] = Sowing::FIELD_FACTOR;
        let factor = ((100.0 * latest.factor).round() / 100.0).clamp(least, most);
        let t = Tokens::of(ui);
        let said: Vec<String> = earlier
            .iter()
            .take(TOLD_FIELDS)
            .map(EarlierField::sentence)
            .collect();
        let text = RichText::new(said.join(" ")).font(t.small_font()).color(t.quiet);
        ui.add(Label::new(text).wrap());
        let is_new = (factor - before.field_factor).abs() > 1e-9;
        if is_new && ui.button(format!("Take the field factor {factor}")).clicked() {
            wanted.field_factor = factor;
        }
    }
    wanted
}

/// Every kept ear with its kernels; those that cannot give the wanted plants come first.
fn table(ui: &mut Ui, ctx: &mut PaneCtx<'_>, sowings: &Sowings) {
    let mut order: Vec<&EarSowing> = sowings.ears.iter().collect();
    order.sort_by_key(|one| (one.limited_by().is_empty(), one.number));
    let chosen = ear_rows(ui, "kernels for a stand", &COLUMNS, order.len(), |place| {
        let one = order[place];
        let needs = match one.told.needed {
            Some(needed) => needed.to_string(),
            None => format!("> {MOST_OF_AN_EAR}"),
        };
        let cells = vec![
            one.number.to_string(),
            needs,
            one.plant.to_string(),
            one.plants(),
            chance(one.told.probability),
            one.limited_by().to_owned(),
        ];
        let said = format!("Ear {}. {}", one.number, one.sentence(&sowings.wanted));
        (cells, said)
    });
    if let Some(place) = chosen {
        ctx.choose(vec![order[place].ear]);
    }
}
