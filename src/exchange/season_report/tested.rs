//! The tests of a season: how they were done, what their trays say, and whether that can be believed.

use super::super::print::Flow;
use super::{Report, figures, none, part, piece, say, say_all, tenths};
use crate::insight::{Finding, hours, temperature, tray_totals};
use crate::model::{Pass, Test, TrayId, plural};
use jiff::civil::Date;
use std::collections::BTreeMap;

impl Report<'_> {
    pub(super) fn tests(&self, flow: &mut Flow) {
        for test in self.tests_of() {
            part(flow, &format!("The test '{}'", test.name));
            say_all(flow, self.recipe(test));
            say_all(flow, self.counted(test));
            self.trays(flow, test);
            piece(flow, "Whether it can be believed");
            self.believed(flow, test);
            self.cold_days(flow, test);
        }
    }

    /// How the test is done, a sentence each.
    fn recipe(&self, test: &Test) -> Vec<String> {
        let (recipe, plan) = (&test.recipe, &test.plan);
        let unit = self.project.about.units.temperature;
        let band = unit.difference_of_celsius(recipe.band());
        let mut how = vec![format!(
            "{}, give or take {band:.1} {}",
            temperature(recipe.cold_c, unit),
            unit.sign()
        )];
        how.extend(
            recipe
                .warm
                .map(|warm| format!("from day {} on {}", warm.from_day, temperature(warm.c, unit))),
        );
        how.extend(recipe.early_day.map(|day| format!("early count on day {day}")));
        how.push(format!("final count on day {}", recipe.final_day));
        if !recipe.medium.is_empty() {
            how.push(format!("on {}", recipe.medium));
        }
        let trays = self.project.trays_of(test.id).count();
        let check = if test.check_lot.is_empty() {
            "no check lot".to_owned()
        } else {
            format!("check lot {}", test.check_lot)
        };
        let laid = match test.laid {
            Some(day) => format!("Laid on {day}"),
            None => "Not laid yet".to_owned(),
        };
        let rule = match self.project.about.germinated {
            crate::model::Germinated::StrongAndWeak => "Strong and weak seedlings count as germinated.",
            crate::model::Germinated::StrongOnly => "Only strong seedlings count as germinated.",
        };
        vec![
            format!("{}.", how.join("; ")),
            format!(
                "{laid}: {}, {} a cell, {}, {check}; the layout was drawn from the number {}.",
                plural(trays, "tray"),
                plural(usize::from(plan.kernels), "kernel"),
                plural(usize::from(plan.replicates), "cell") + " of each ear",
                test.seed
            ),
            rule.to_owned(),
        ]
    }

    /// Who counted and when, and how far it has come, a sentence each.
    fn counted(&self, test: &Test) -> Vec<String> {
        let progress = self.insight.progress(self.document, test.id);
        let mut said = Vec::new();
        for pass in [Pass::Early, Pass::Final] {
            if pass == Pass::Early && test.recipe.early_day.is_none() {
                continue;
            }
            let mut who: BTreeMap<String, usize> = BTreeMap::new();
            let mut days: Option<[Date; 2]> = None;
            for cell in self.project.cells_of_test(test.id) {
                let Some(count) = self.project.count_in_force(cell.id, pass) else {
                    continue;
                };
                *who.entry(count.by.clone()).or_default() += 1;
                if let Some(on) = count.on {
                    let [first, last] = days.unwrap_or([on, on]);
                    days = Some([first.min(on), last.max(on)]);
                }
            }
            let by: Vec<String> = who
                .into_iter()
                .map(|(name, cells)| {
                    let name = if name.is_empty() {
                        "somebody".to_owned()
                    } else {
                        name
                    };
                    format!("{name} ({})", plural(cells, "cell"))
                })
                .collect();
            let by = if by.is_empty() {
                String::new()
            } else {
                format!(" by {}", by.join(", "))
            };
            let when = match days {
                Some([first, last]) if first == last => format!(", on {first}"),
                Some([first, last]) => format!(", from {first} to {last}"),
                None => String::new(),
            };
            said.push(format!("{}{by}{when}.", progress.sentence(pass)));
        }
        for pass in [Pass::Early, Pass::Final] {
            if let Some(agreement) = self.insight.agreement(self.document, test.id, pass).as_ref() {
                said.push(format!("Second scorer ({pass}): {}", agreement.sentence()));
            }
        }
        said
    }

    fn trays(&self, flow: &mut Flow, test: &Test) {
        let progress = self.insight.progress(self.document, test.id);
        let effect = |tray: TrayId| self.estimates.trays.iter().find(|one| one.tray == tray);
        let rows: Vec<Vec<String>> = self
            .project
            .trays_of(test.id)
            .map(|tray| {
                let [ears, checks] = tray_totals(self.project, tray.id);
                let total = |total: crate::insight::Total| {
                    if total.counted == 0 { none() } else { total.text() }
                };
                let cells = progress.of(tray.id).map_or((0, 0), |one| (one.last, one.cells));
                let laid = self.project.tray_laid_on(tray.id);
                vec![
                    tray.number.to_string(),
                    laid.map_or_else(none, |day| day.to_string()),
                    format!("{} of {}", cells.0, cells.1),
                    total(ears),
                    total(checks),
                    effect(tray.id).map_or_else(none, |effect| format!("{:+.0}", effect.points)),
                ]
            })
            .collect();
        if rows.is_empty() {
            say(flow, "It has no tray.");
            return;
        }
        let titles = [
            "Tray",
            "Laid on",
            "Cells counted finally",
            "Ears: kernels germinated",
            "Check lot: kernels germinated",
            "Against the other trays, points",
        ];
        figures(flow, 0.45, &titles, rows);
    }

    fn believed(&self, flow: &mut Flow, test: &Test) {
        let sound = self.insight.soundness(self.document, test.id);
        if sound.trays.is_empty() {
            say(flow, "No tray is counted whole yet, so it cannot be told.");
            return;
        }
        if sound.findings.is_empty() {
            let trays = plural(sound.trays.len(), "tray");
            say(
                flow,
                &format!("Nothing was found in {trays} counted whole that speaks against it."),
            );
        }
        for Finding {
            sentence,
            evidence,
            remedy,
            ..
        } in &sound.findings
        {
            let all = [sentence, evidence, remedy].map(String::as_str);
            let told: Vec<&str> = all.into_iter().filter(|text| !text.is_empty()).collect();
            say(flow, &told.join(" "));
        }
    }

    fn cold_days(&self, flow: &mut Flow, test: &Test) {
        if self.project.logs_of(test.id).next().is_none() {
            return;
        }
        let days = self.insight.cold_days(self.document, test.id);
        let unit = self.project.about.units.temperature;
        piece(flow, "How cold it was");
        for finding in &days.findings {
            say(flow, &format!("{} {}", finding.sentence, finding.remedy));
        }
        let degrees = |celsius: f64| format!("{:.1}", unit.of_celsius(celsius));
        let rows: Vec<Vec<String>> = days
            .figures
            .trays
            .iter()
            .map(|tray| {
                let known = tray.figures;
                let of = |value: Option<f64>| value.map_or_else(none, degrees);
                vec![
                    tray.number.to_string(),
                    of(known.map(|one| one.mean_c)),
                    of(known.map(|one| one.lowest_c)),
                    of(known.map(|one| one.highest_c)),
                    tenths(known.map(|one| one.in_band_hours)),
                    known.map_or_else(none, |one| hours(one.known_hours)),
                    tray.gaps.len().to_string(),
                ]
            })
            .collect();
        let sign = unit.sign();
        let mean = format!("Mean {sign}");
        let titles = [
            "Tray",
            &mean,
            "Lowest",
            "Highest",
            "Hours in the band",
            "Hours known",
            "Gaps",
        ];
        figures(flow, 0.45, &titles, rows);
    }
}
