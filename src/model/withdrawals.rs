//! Taking kernels out of packets, and putting them back.

use super::change::Change;
use super::ids::{EarId, ListId, PacketId, TestId};
use super::packet::{LedgerLine, LedgerReason, Packet};
use super::problem::{Fault, Place, Problem};
use super::project::Project;
use super::words::plural;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Packets as they will be when kernels have gone out of them for one reason, or have come back.
pub(super) struct Withdrawals<'a> {
    project: &'a Project,
    reason: LedgerReason,
    packets: BTreeMap<PacketId, Packet>,
    /// Numbers of the ears whose packets hold too few kernels.
    short: Vec<u32>,
}

impl<'a> Withdrawals<'a> {
    /// Kernels that go into a test.
    pub(super) fn for_test(project: &'a Project, test: TestId) -> Self {
        Self::new(project, LedgerReason::Test(test))
    }

    /// Kernels that are planted from a list.
    pub(super) fn for_list(project: &'a Project, list: ListId) -> Self {
        Self::new(project, LedgerReason::PlantedFrom(list))
    }

    fn new(project: &'a Project, reason: LedgerReason) -> Self {
        Self {
            project,
            reason,
            packets: BTreeMap::new(),
            short: Vec::new(),
        }
    }

    /// Gives the packets of an ear as they will be.
    fn packets_of(&self, ear: EarId) -> Vec<Packet> {
        let now = self.project.packets_of(ear);
        now.map(|packet| self.packets.get(&packet.id).unwrap_or(packet).clone())
            .collect()
    }

    /// Takes kernels of an ear out of a packet that has enough. An ear without a packet has no ledger to take from;
    /// the list of things to do names it.
    pub(super) fn take(&mut self, ear: EarId, kernels: i64, on: Option<Date>) {
        let packets = self.packets_of(ear);
        if packets.is_empty() || kernels == 0 {
            return;
        }
        let has_enough = |packet: &&Packet| packet.balance().is_none_or(|balance| balance >= kernels);
        let Some(packet) = packets.iter().find(has_enough) else {
            self.short
                .extend(self.project.ears.get(ear).map(|ear| ear.number));
            return;
        };
        let mut after = packet.clone();
        let reason = self.reason;
        let same_day = |line: &&mut LedgerLine| line.reason == reason && line.on == on;
        match after.ledger.iter_mut().find(same_day) {
            Some(line) => line.kernels -= kernels as i32,
            None => after.ledger.push(self.line(kernels, on)),
        }
        self.packets.insert(after.id, after);
    }

    /// The ledger line of kernels that are taken out.
    pub(super) fn line(&self, kernels: i64, on: Option<Date>) -> LedgerLine {
        LedgerLine {
            on,
            kernels: -(kernels as i32),
            reason: self.reason,
            note: String::new(),
        }
    }

    /// Puts kernels of an ear back, as far as they were taken out for the same reason; the last ones taken first.
    pub(super) fn put_back(&mut self, ear: EarId, kernels: i64) {
        let mut left = kernels as i32;
        for mut packet in self.packets_of(ear).into_iter().rev() {
            for line in packet.ledger.iter_mut().rev() {
                if line.reason == self.reason && line.kernels < 0 {
                    let back = left.min(-line.kernels);
                    line.kernels += back;
                    left -= back;
                }
            }
            packet
                .ledger
                .retain(|line| line.reason != self.reason || line.kernels != 0);
            self.packets.insert(packet.id, packet);
            if left == 0 {
                return;
            }
        }
    }

    /// Lets the packets follow a number of kernels that has changed.
    pub(super) fn adjust(&mut self, ear: EarId, more: i64, on: Option<Date>) {
        if more > 0 {
            self.take(ear, more, on);
        } else {
            self.put_back(ear, -more);
        }
    }

    /// Gives the changes of the packets, or names the ears that have too few kernels.
    pub(super) fn changes(self) -> Result<Vec<Change>, Problem> {
        if !self.short.is_empty() {
            let mut short = self.short;
            short.sort_unstable();
            short.dedup();
            let numbers: Vec<String> = short.iter().map(u32::to_string).collect();
            let (what, place) = match self.reason {
                LedgerReason::PlantedFrom(list) => ("to plant what the list says", Place::List(list)),
                LedgerReason::Test(test) => ("to lay this test", Place::Test(test)),
                _ => ("for this", Place::Project),
            };
            let remedy = match self.reason {
                LedgerReason::PlantedFrom(_) => "plant the others, or freeze a list that replaces this one",
                _ => "design the test without them or with fewer kernels",
            };
            let text = format!(
                "too few kernels in the packets of {} {what}: {} {}; correct their kernels, or {remedy}",
                plural(short.len(), "ear"),
                if short.len() == 1 { "ear" } else { "ears" },
                numbers.join(", ")
            );
            return Err(Problem::new(place, Fault::Mismatch(text)));
        }
        let changed = self.packets.into_values().filter_map(|packet| {
            let before = self.project.packets.get(packet.id)?;
            (*before != packet).then(|| Change::replace(before, packet))
        });
        Ok(changed.collect())
    }
}
