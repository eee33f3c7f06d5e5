//! The sheet that labels are printed on: how many, how large, and where they lie.

use super::super::print::{BoxAt, POINTS_PER_MM, Paper};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Width and height in millimetres of the smallest label that holds everything legibly.
pub const SMALLEST_MM: (f32, f32) = (38.0, 20.0);

/// The most labels across or down a sheet.
pub const MOST_ACROSS: u16 = 20;

/// How far labels may stick out of the sheet before it is refused, in millimetres: sizes in inches are rounded.
const SLACK_MM: f32 = 0.3;

/// Labels in rows and columns on a sheet. All lengths are in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LabelSheet {
    /// The paper.
    pub paper: Paper,
    /// Width and height of a label.
    pub label_mm: (f32, f32),
    /// How many stand side by side.
    pub columns: u16,
    /// How many stand one below another.
    pub rows: u16,
    /// Blank space between two labels, across and down.
    pub gap_mm: (f32, f32),
    /// Blank edge at the left of the first label and above it.
    pub edge_mm: (f32, f32),
}

/// Why labels cannot lie on a sheet as they are said to.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SheetFault {
    /// A label is too small for what it must show.
    #[error(
        "A label of {0:.1} by {1:.1} mm is too small to be read. Use labels of at least {a} by {b} mm",
        a = SMALLEST_MM.0, b = SMALLEST_MM.1
    )]
    TooSmall(f32, f32),
    /// There are no labels, or very many.
    #[error("A sheet of {0} by {1} labels is not possible. Use 1 to {MOST_ACROSS} across and down")]
    Count(u16, u16),
    /// A gap or an edge is negative, or no number.
    #[error("The {0} of a label sheet cannot be {1} mm. Use 0 or more")]
    Blank(&'static str, f32),
    /// The labels are wider than the paper.
    #[error(
        "The labels need {needed:.1} mm from the left edge of the paper, which is {has:.1} mm wide. Make the labels, the gaps or the edge smaller, or put fewer side by side"
    )]
    TooWide {
        /// Up to the right side of the last label, in millimetres.
        needed: f32,
        /// Width of the paper in millimetres.
        has: f32,
    },
    /// The labels are higher than the paper.
    #[error(
        "The labels need {needed:.1} mm from the top of the paper, which is {has:.1} mm high. Make the labels, the gaps or the edge smaller, or put fewer below each other"
    )]
    TooHigh {
        /// Down to the lower side of the last label, in millimetres.
        needed: f32,
        /// Height of the paper in millimetres.
        has: f32,
    },
}

/// Sheets that are often sold or easily cut, named by their dimensions only. The measures are common practice, no
/// source; the test page shows whether a sheet in the hand agrees.
pub const COMMON_SHEETS: [LabelSheet; 8] = [
    sheet(Paper::Letter, (3, 10), (66.7, 25.4), (3.2, 0.0), (4.8, 12.7)),
    sheet(Paper::Letter, (2, 7), (101.6, 33.9), (4.8, 0.0), (4.0, 21.0)),
    sheet(Paper::Letter, (2, 5), (101.6, 50.8), (4.8, 0.0), (4.0, 12.7)),
    sheet(Paper::Letter, (3, 8), (62.0, 31.0), (0.0, 0.0), (14.95, 15.7)),
    sheet(Paper::A4, (3, 7), (63.5, 38.1), (2.5, 0.0), (7.25, 15.15)),
    sheet(Paper::A4, (2, 7), (99.1, 38.1), (2.5, 0.0), (4.65, 15.15)),
    sheet(Paper::A4, (2, 4), (99.1, 67.7), (2.5, 0.0), (4.65, 13.1)),
    sheet(Paper::A4, (3, 8), (62.0, 31.0), (0.0, 0.0), (12.0, 24.5)),
];

const fn sheet(
    paper: Paper,
    (columns, rows): (u16, u16),
    label_mm: (f32, f32),
    gap_mm: (f32, f32),
    edge_mm: (f32, f32),
) -> LabelSheet {
    LabelSheet {
        paper,
        label_mm,
        columns,
        rows,
        gap_mm,
        edge_mm,
    }
}

impl Default for LabelSheet {
    fn default() -> Self {
        COMMON_SHEETS[0]
    }
}

impl LabelSheet {
    /// How many labels a sheet has.
    pub fn labels(&self) -> usize {
        usize::from(self.columns) * usize::from(self.rows)
    }

    /// Its name by its dimensions: `3 × 10, 66.7 × 25.4 mm on Letter`.
    pub fn name(&self) -> String {
        let (width, height) = self.label_mm;
        let paper = match self.paper {
            Paper::Letter => "Letter",
            Paper::A4 => "A4",
        };
        format!(
            "{} \u{d7} {}, {width} \u{d7} {height} mm on {paper}",
            self.columns, self.rows
        )
    }

    /// Says whether the labels lie on the paper and are large enough.
    ///
    /// # Errors
    /// [`SheetFault`] names the measure that is impossible.
    pub fn check(&self) -> Result<(), SheetFault> {
        let (width, height) = self.label_mm;
        // Written so that what is no number is refused too.
        if !(width >= SMALLEST_MM.0 && height >= SMALLEST_MM.1) {
            return Err(SheetFault::TooSmall(width, height));
        }
        let possible = 1..=MOST_ACROSS;
        if !possible.contains(&self.columns) || !possible.contains(&self.rows) {
            return Err(SheetFault::Count(self.columns, self.rows));
        }
        let blanks = [
            ("gap across", self.gap_mm.0),
            ("gap down", self.gap_mm.1),
            ("left edge", self.edge_mm.0),
            ("upper edge", self.edge_mm.1),
        ];
        if let Some((what, length)) = blanks
            .into_iter()
            .find(|(_, length)| !length.is_finite() || *length < 0.0)
        {
            return Err(SheetFault::Blank(what, length));
        }
        let (needed, has) = (self.far_end_mm(), self.paper_mm());
        if needed.0 > has.0 + SLACK_MM {
            let (needed, has) = (needed.0, has.0);
            return Err(SheetFault::TooWide { needed, has });
        }
        if needed.1 > has.1 + SLACK_MM {
            let (needed, has) = (needed.1, has.1);
            return Err(SheetFault::TooHigh { needed, has });
        }
        Ok(())
    }

    /// Left top corner and size of a label in points; `place` counts from 0, along the rows.
    pub fn place(&self, place: usize) -> BoxAt {
        let columns = usize::from(self.columns).max(1);
        let (column, row) = (place % columns, place / columns);
        let at = |edge: f32, label: f32, gap: f32, number: usize| {
            (edge + (label + gap) * number as f32) * POINTS_PER_MM
        };
        let left = at(self.edge_mm.0, self.label_mm.0, self.gap_mm.0, column);
        let top = at(self.edge_mm.1, self.label_mm.1, self.gap_mm.1, row);
        let size = (self.label_mm.0 * POINTS_PER_MM, self.label_mm.1 * POINTS_PER_MM);
        ((left, top), size)
    }

    /// Right and lower side of the last label.
    pub(super) fn far_end_mm(&self) -> (f32, f32) {
        let end = |edge: f32, label: f32, gap: f32, count: u16| {
            edge + label * f32::from(count) + gap * (f32::from(count) - 1.0)
        };
        (
            end(self.edge_mm.0, self.label_mm.0, self.gap_mm.0, self.columns),
            end(self.edge_mm.1, self.label_mm.1, self.gap_mm.1, self.rows),
        )
    }

    pub(super) fn paper_mm(&self) -> (f32, f32) {
        let (width, height) = self.paper.size();
        (width / POINTS_PER_MM, height / POINTS_PER_MM)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_common_sheets_are_possible_and_lie_in_the_middle() {
        for sheet in COMMON_SHEETS {
            assert_eq!(sheet.check(), Ok(()), "{}", sheet.name());
            let (end, paper) = (sheet.far_end_mm(), sheet.paper_mm());
            for (edge, end, paper) in [
                (sheet.edge_mm.0, end.0, paper.0),
                (sheet.edge_mm.1, end.1, paper.1),
            ] {
                assert!(
                    (edge - (paper - end)).abs() < 0.5,
                    "{}: {edge} and {}",
                    sheet.name(),
                    paper - end
                );
            }
        }
        assert_eq!(
            LabelSheet::default().name(),
            "3 \u{d7} 10, 66.7 \u{d7} 25.4 mm on Letter"
        );
    }

    #[test]
    fn labels_follow_each_other_along_the_rows() {
        let sheet = LabelSheet::default();
        let mm = |place: usize| {
            let ((left, top), _) = sheet.place(place);
            // In tenths of a millimetre.
            [left, top].map(|points| (points / POINTS_PER_MM * 10.0).round() as u32)
        };
        assert_eq!(mm(0), [48, 127]);
        assert_eq!(mm(2), [1446, 127]);
        assert_eq!(mm(3), [48, 381]);
        assert_eq!(mm(29), [1446, 2413]);
    }

    #[test]
    fn an_impossible_sheet_is_refused_with_its_measure() {
        let good = LabelSheet::default();
        for (sheet, part) in [
            (
                LabelSheet {
                    label_mm: (30.0, 25.4),
                    ..good
                },
                "too small",
            ),
            (
                LabelSheet {
                    label_mm: (f32::NAN, 25.4),
                    ..good
                },
                "too small",
            ),
            (LabelSheet { columns: 0, ..good }, "0 by 10 labels"),
            (LabelSheet { rows: 21, ..good }, "3 by 21 labels"),
            (
                LabelSheet {
                    gap_mm: (-1.0, 0.0),
                    ..good
                },
                "gap across",
            ),
            (
                LabelSheet {
                    edge_mm: (4.8, f32::NAN),
                    ..good
                },
                "upper edge",
            ),
            (LabelSheet { columns: 4, ..good }, "215.9 mm wide"),
            (LabelSheet { rows: 11, ..good }, "279.4 mm high"),
        ] {
            let fault = sheet.check().unwrap_err().to_string();
            assert!(fault.contains(part), "{fault}");
        }
    }
}
