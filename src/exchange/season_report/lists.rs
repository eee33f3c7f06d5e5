//! The frozen lists of a season, what was planted from them, and where its kernels went.

use super::super::print::Flow;
use super::{Report, figures, part, piece, said_under, say};
use crate::insight::{field_sentence, revision};
use crate::model::{LedgerReason, PlantingList, plural};

/// Changes of a list that are told; more would be a list of their own.
const MOST_CHANGES: usize = 40;

impl Report<'_> {
    pub(super) fn lists(&self, flow: &mut Flow) {
        let mut lists: Vec<&PlantingList> = self
            .project
            .lists
            .iter()
            .filter(|list| list.season == self.season.id)
            .collect();
        lists.sort_by_key(|list| list.version);
        if lists.is_empty() {
            return;
        }
        part(flow, "Frozen planting lists");
        for (place, list) in lists.iter().enumerate() {
            piece(
                flow,
                &format!("Version {}, digest {}", list.version, list.short_digest()),
            );
            if list.compute_digest() != list.digest {
                say(
                    flow,
                    "THIS IS NOT WHAT WAS FROZEN: the content of the list does not give its digest. Restore the project \
                     from a copy before you plant from it.",
                );
            }
            say(
                flow,
                &format!(
                    "Frozen on {} by {}: {}, {}, {} to plant, {} held in reserve. Cutoffs: {}.",
                    list.frozen_on,
                    list.frozen_by,
                    plural(list.entries.len(), "ear"),
                    plural(list.mothers(), "mother row"),
                    plural(list.kernels() as usize, "kernel"),
                    plural(list.reserves.len(), "ear"),
                    list.cutoffs_text().trim_end_matches('.')
                ),
            );
            if let Some(before) = place.checked_sub(1).and_then(|place| lists.get(place)) {
                say(
                    flow,
                    &format!("It replaces version {}. Reason: {}", before.version, list.reason),
                );
                let changes = revision(before, list);
                said_under(flow, "What changed", cut(changes));
            }
        }
        let Some(list) = self.project.list_in_force(self.season.id) else {
            return;
        };
        let planted = list
            .entries
            .iter()
            .filter(|entry| self.project.is_planted(list, entry))
            .count();
        piece(flow, "What became of it");
        say(
            flow,
            &format!(
                "{planted} of {} of version {} are noted as planted.",
                plural(list.entries.len(), "ear"),
                list.version
            ),
        );
        let plan = self.project.plan_of(list.id);
        let view = plan.map(|plan| self.insight.field_plan(self.document, plan.id));
        if let Some(view) = view.as_deref().and_then(Option::as_ref) {
            say(
                flow,
                &format!("Its field: {}", field_sentence(self.project, view)),
            );
        }
        let since = self.insight.since_frozen(self.document, list.id);
        said_under(
            flow,
            "What has changed in the project since it was frozen",
            cut(since.to_vec()),
        );
    }

    /// Where the kernels of the season went, by the ledgers of its packets.
    pub(super) fn kernels(&self, flow: &mut Flow) {
        let ears = self.project.ears_of(self.season.id);
        let packets: Vec<_> = ears.flat_map(|ear| self.project.packets_of(ear.id)).collect();
        if packets.is_empty() {
            return;
        }
        let mut totals: Vec<(&str, i64)> = Vec::new();
        for line in packets.iter().flat_map(|packet| &packet.ledger) {
            let name = match line.reason {
                LedgerReason::PlantedFrom(_) => "planted from a frozen list",
                other => other.name(),
            };
            match totals.iter_mut().find(|(known, _)| *known == name) {
                Some((_, total)) => *total += i64::from(line.kernels),
                None => totals.push((name, i64::from(line.kernels))),
            }
        }
        part(flow, "Kernels in the packets");
        let uncounted = packets.iter().filter(|packet| packet.balance().is_none()).count();
        let held: i64 = packets.iter().filter_map(|packet| packet.balance()).sum();
        say(
            flow,
            &format!(
                "{}: {held} kernels in those that were counted, {uncounted} never counted.",
                plural(packets.len(), "packet")
            ),
        );
        let rows = totals
            .into_iter()
            .map(|(name, total)| vec![crate::model::capital(name), format!("{total:+}")]);
        figures(
            flow,
            1.4,
            &["By the ledgers", "Kernels in and out"],
            rows.collect(),
        );
    }
}

/// The first of many sentences, and how many more there are.
fn cut(mut sentences: Vec<String>) -> Vec<String> {
    let more = sentences.len().saturating_sub(MOST_CHANGES);
    if more > 0 {
        sentences.truncate(MOST_CHANGES);
        sentences.push(format!("And {more} more."));
    }
    sentences
}
