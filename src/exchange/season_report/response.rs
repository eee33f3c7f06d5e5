//! What the seasons brought, where there is more than one.

use super::super::print::Flow;
use super::{Report, figures, none, part, piece, said_under, say_all};

impl Report<'_> {
    pub(super) fn response(&self, flow: &mut Flow) {
        let response = self.insight.response(self.document);
        if response.scored_seasons() < 2 {
            return;
        }
        part(flow, "What the seasons brought");
        say_all(flow, response.sentences());
        let or_none = |text: String| if text.is_empty() { none() } else { text };
        let rows = response.lines().into_iter().map(|line| {
            let year = line.year.to_string();
            let rest = [
                line.ears,
                line.counted,
                line.counted_95,
                line.check,
                line.beside,
                line.selected,
            ];
            std::iter::once(year).chain(rest.map(or_none)).collect()
        });
        let titles = [
            "Season",
            "Ears",
            "As counted",
            "95 %",
            "Check lot",
            "Beside the check",
            "Selected",
        ];
        figures(flow, 0.8, &titles, rows.collect());
        said_under(
            flow,
            "What of the selection was realised",
            response.realised_sentences(),
        );
        said_under(flow, "The check lot itself", response.lot_sentences());
        if !response.traits.is_empty() {
            piece(flow, "What came along");
            say_all(flow, response.drift_sentences());
            let rows = response.traits.iter().map(|course| {
                let (first, last) = course.ends()?;
                let mean =
                    |at: usize| course.means[at].map_or_else(none, |one| course.mean_text(one.mean.value));
                Some(vec![
                    course.name.clone(),
                    format!("{}: {}", response.seasons[first].1, mean(first)),
                    format!("{}: {}", response.seasons[last].1, mean(last)),
                    course.deviations().map_or_else(none, |one| format!("{one:+.2}")),
                    course.asked_text().to_owned(),
                ])
            });
            let titles = ["What", "First season", "Last season", "Change in SD", "Asked for"];
            figures(flow, 1.6, &titles, rows.flatten().collect());
        }
        said_under(flow, "How this is reckoned", response.assumptions());
    }
}
