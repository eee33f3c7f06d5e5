//! The choice of a season: its ears in numbers, the plot, the cutoffs, what the choice costs and buys, mothers, kernels.

use super::super::choice_pictures::{Chosen, curve_picture, frontier_picture};
use super::super::picture::Picture;
use super::super::plot_picture::{PlotOrder, plot_picture};
use super::super::print::Flow;
use super::{Report, figures, none, part, percent, piece, said_under, say, say_all, tenths};
use crate::insight::{Field, KeptAndAll, TraitShift, plot_text};
use crate::model::{Stand, capital, plural};

/// Height of the plot, in points.
const PLOT: f32 = 360.0;
/// Height of the six small plots, in points.
const CURVE: f32 = 290.0;
/// Height of the frontier, in points.
const FRONTIER: f32 = 210.0;
/// Percents of one step of the distribution.
const STEP: f64 = 10.0;

impl Report<'_> {
    pub(super) fn choice(&self, flow: &mut Flow) {
        self.in_numbers(flow);
        if self.estimates.scored() > 0 {
            self.plot(flow);
        }
        self.cutoffs(flow);
    }

    fn in_numbers(&self, flow: &mut Flow) {
        let summary = &self.choice.summary;
        part(flow, "All ears in numbers");
        say(flow, &self.estimates.outcome);
        let line = |what: &str, means: KeptAndAll, unit: &str| {
            let text = |value: Option<f64>| value.map_or_else(none, |value| format!("{value:.1}{unit}"));
            vec![what.to_owned(), text(means.kept), text(means.all)]
        };
        let rows = vec![
            vec![
                "Ears".to_owned(),
                summary.kept.to_string(),
                summary.ears.to_string(),
            ],
            vec![
                "Mother rows".to_owned(),
                summary.mothers_kept.to_string(),
                summary.mothers.to_string(),
            ],
            line("Cold germination as counted", summary.observed_percent, " %"),
            line("Cold germination, likely", summary.likely_percent, " %"),
            line("Maturity days", summary.maturity_days, ""),
        ];
        figures(flow, 1.4, &["Mean", "To plant", "All ears"], rows);
        say_all(flow, summary.remarks());
        if self.estimates.scored() > 0 {
            self.distribution(flow);
        }
    }

    /// How many ears germinated how much.
    fn distribution(&self, flow: &mut Flow) {
        let steps = (100.0 / STEP) as usize;
        let mut counts = vec![[0_usize; 4]; steps];
        for one in &self.choice.standings {
            let Some(estimate) = &one.estimate else { continue };
            let is_kept = one.stand == Stand::Plant;
            for (side, value) in [estimate.observed_percent, estimate.likely_percent]
                .into_iter()
                .enumerate()
            {
                let step = ((value / STEP).max(0.0) as usize).min(steps - 1);
                counts[step][2 * side] += 1;
                counts[step][2 * side + 1] += usize::from(is_kept);
            }
        }
        let rows = counts.iter().enumerate().rev().map(|(step, counts)| {
            let from = STEP * step as f64;
            let to = if step + 1 == steps {
                format!("{from} to 100 %")
            } else {
                format!("{from} to below {} %", from + STEP)
            };
            std::iter::once(to)
                .chain(counts.iter().map(usize::to_string))
                .collect()
        });
        piece(flow, "How they are distributed");
        let titles = [
            "Cold germination",
            "As counted: scored ears",
            "of them to plant",
            "Likely: scored ears",
            "of them to plant",
        ];
        figures(flow, 1.4, &titles, rows.collect());
    }

    fn plot(&self, flow: &mut Flow) {
        let order = PlotOrder {
            captions: false,
            ..PlotOrder::default()
        };
        let field = Field::new(self.project, &self.choice.standings, order.axes);
        flow.need(PLOT + 70.0);
        part(flow, "Cold germination against maturity");
        let picture = plot_picture(
            self.fonts,
            self.project,
            &self.choice,
            &self.estimates,
            &order,
            [flow.width(), PLOT],
        );
        set(flow, &picture);
        say(flow, &plot_text(self.project, &self.choice, &field));
    }

    fn cutoffs(&self, flow: &mut Flow) {
        let season = self.season.id;
        part(flow, "The cutoffs");
        let text = self.project.cutoffs_text(&self.cutoffs);
        say(flow, &format!("{}.", text.trim_end_matches('.')));
        let alone = self.choice.summary.alone.iter();
        let alone = alone.map(|one| format!("{}.", one.sentence(self.project)));
        said_under(flow, "What each does by itself", alone.collect());
        let sets = self.insight.sets(self.document, season, &self.cutoffs);
        let mut history: Vec<String> = sets.moves_sentence().into_iter().collect();
        history.extend(
            sets.moves
                .first()
                .map(|last| format!("The last move: {}", last.sentence())),
        );
        said_under(flow, "How they came to stand there", history);
        let kept = sets.lines.iter().filter(|line| line.name.is_some());
        let kept = kept.map(|line| {
            let note = if line.note.is_empty() {
                String::new()
            } else {
                format!(" {}", line.note)
            };
            format!("{}{note}", line.sentence())
        });
        said_under(flow, "Sets that were kept under a name", kept.collect());
        if self.estimates.scored() == 0 {
            return;
        }
        let curve = self.insight.curve(self.document, season, &self.cutoffs);
        flow.need(CURVE + 60.0);
        piece(flow, "How the choice moves with the cold germination cutoff");
        let size = [flow.width(), CURVE];
        set(
            flow,
            &curve_picture(self.fonts, self.chosen(), &curve, size, false),
        );
        say_all(flow, curve.sentences());
    }

    pub(super) fn price(&self, flow: &mut Flow) {
        let price = self.insight.price(self.document, self.season.id, &self.cutoffs);
        part(flow, "What the choice costs and buys");
        said_under(flow, "It buys", price.buys());
        said_under(flow, "It costs", price.costs());
        let shifts = price.shifts.iter().map(TraitShift::sentence);
        said_under(flow, "Kept against all", shifts.collect());
        said_under(flow, "Taken for granted", price.assumptions());
        self.mothers(flow);
        self.pedigree(flow);
        self.kernels_of_each(flow);
    }

    fn mothers(&self, flow: &mut Flow) {
        let mothers = self.insight.mothers(self.document, self.season.id, &self.cutoffs);
        part(flow, "Mother rows");
        say_all(flow, mothers.shortfall());
        say_all(flow, mothers.sentences());
        let rows = mothers.lines.iter().map(|line| {
            vec![
                line.label.clone(),
                line.ears.to_string(),
                line.scored.to_string(),
                line.kept.len().to_string(),
                line.retest.to_string(),
                percent(line.likely_percent),
                line.best.map_or_else(none, |(_, number, _)| number.to_string()),
                percent(line.best.map(|(.., likely)| likely)),
            ]
        });
        let titles = [
            "Mother row",
            "Ears",
            "Scored",
            "To plant",
            "To test again",
            "Likely, mean",
            "Likely best: ear",
            "its likely",
        ];
        figures(flow, 1.4, &titles, rows.collect());
    }

    fn pedigree(&self, flow: &mut Flow) {
        let pedigree = self.insight.pedigree(self.document);
        let season = pedigree.seasons.iter().find(|one| one.season == self.season.id);
        let Some(season) = season else { return };
        part(flow, "Pedigree");
        say(flow, &season.pollen_sentence());
        say_all(flow, season.figures.sentences(season.year));
        say_all(flow, pedigree.refusal.clone());
    }

    fn kernels_of_each(&self, flow: &mut Flow) {
        let season = self.season.id;
        part(flow, "Kernels of each ear to plant");
        let summary = &self.choice.summary;
        say(
            flow,
            &format!(
                "Wanted of all ears to plant: {}; there above the remnant of {} a packet: {}.",
                plural(summary.kernels_wanted as usize, "kernel"),
                self.season.remnant,
                summary.kernels_ready
            ),
        );
        let draft = self.insight.list_draft(self.document, season, &self.cutoffs);
        say(flow, &draft.way);
        let all: u64 = draft.entries.iter().map(|entry| u64::from(entry.plant)).sum();
        say(
            flow,
            &format!(
                "A list frozen now would have {} with {} to plant.",
                plural(draft.entries.len(), "ear"),
                plural(all as usize, "kernel")
            ),
        );
        say_all(flow, draft.notes.iter().map(|note| capital(note)));
        if let Some(sowings) = self
            .insight
            .sowings(self.document, season, &self.cutoffs)
            .as_ref()
        {
            say_all(flow, sowings.sentences());
            say(flow, &sowings.assumptions());
        }
        let shares = self.insight.shares(self.document, season, &self.cutoffs);
        if shares.frontier.len() > 1 {
            flow.need(FRONTIER + 60.0);
            piece(flow, "What sharing the kernels out could do");
            let size = [flow.width(), FRONTIER];
            set(
                flow,
                &frontier_picture(self.fonts, self.chosen(), &shares, size, false),
            );
            say_all(flow, shares.sentences());
            say(flow, &shares.assumptions());
        }
        say_all(flow, shares.refusal.clone());
    }

    fn chosen(&self) -> Chosen<'_> {
        Chosen {
            project: self.project,
            choice: &self.choice,
            estimates: &self.estimates,
        }
    }

    /// What is believed of an ear: `79.8 (62–93)`, in percent.
    pub(super) fn likely_text(one: &crate::insight::Estimate) -> String {
        format!(
            "{} ({:.0}\u{2013}{:.0})",
            tenths(Some(one.likely_percent)),
            one.likely_90.low,
            one.likely_90.high
        )
    }
}

/// Sets a picture in the text.
fn set(flow: &mut Flow, picture: &Picture) {
    flow.drawing(picture.marks().into_iter().cloned(), picture.size.1);
    flow.space(6.0);
}
