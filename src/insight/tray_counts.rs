//! What was counted in one tray. Everything that judges counts reads a tray once, and again only when that tray changes.

use super::design::{self, Counted};
use super::misread::{self, Seen};
use super::progress::{self, TrayProgress};
use crate::model::{Pass, Project, Tray, TrayId};
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What was counted in one tray.
#[derive(Debug)]
pub(super) struct TrayCounts {
    pub(super) tray: TrayId,
    /// How far it has come.
    pub(super) progress: TrayProgress,
    /// Its cells with an early count.
    pub(super) seen: Arc<Seen>,
    /// Its final counts in reading order.
    pub(super) last: Arc<Vec<Counted>>,
    /// How many cells the first scorer counted on each day.
    pub(super) days: BTreeMap<(Date, Pass), usize>,
}

impl TrayCounts {
    pub(super) fn read(project: &Project, tray: &Tray) -> Self {
        let mut days: BTreeMap<(Date, Pass), usize> = BTreeMap::new();
        for cell in project.cells_of(tray.id) {
            let in_force = project
                .counts_of(cell.id)
                .filter(|count| !count.second && !count.void && !project.is_corrected(count.id));
            for (on, pass) in in_force.filter_map(|count| Some((count.on?, count.pass))) {
                *days.entry((on, pass)).or_default() += 1;
            }
        }
        Self {
            tray: tray.id,
            progress: progress::tray_progress(project, tray),
            seen: Arc::new(misread::seen(project, tray)),
            last: Arc::new(design::of_tray(project, tray.test, tray.id)),
            days,
        }
    }

    /// Whether all its cells have a final count.
    pub(super) fn is_finished(&self) -> bool {
        self.progress.cells > 0 && self.progress.last >= self.progress.cells
    }

    /// The last day of its final counts.
    pub(super) fn last_final_on(&self) -> Option<Date> {
        let finals = self.days.keys().filter(|(_, pass)| *pass == Pass::Final);
        finals.map(|(on, _)| *on).max()
    }
}
