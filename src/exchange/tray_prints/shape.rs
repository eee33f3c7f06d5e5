//! The lengths of a tray, and how a drawing of it is cut into sheets.

use crate::model::{Test, Tray};

/// The part of a cell's shorter side that the signs of the top left take.
pub(super) const SIGNS: f32 = 0.24;

/// A rectangle with sides along the axes, `y` downwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub left: f32,
    pub top: f32,
    pub right: f32,
    pub bottom: f32,
}

impl Area {
    pub fn new(at: (f32, f32), size: (f32, f32)) -> Self {
        Self {
            left: at.0,
            top: at.1,
            right: at.0 + size.0,
            bottom: at.1 + size.1,
        }
    }

    pub fn width(self) -> f32 {
        self.right - self.left
    }

    pub fn height(self) -> f32 {
        self.bottom - self.top
    }

    /// What both have in common, if that is an area.
    pub fn meet(self, other: Self) -> Option<Self> {
        let both = Self {
            left: self.left.max(other.left),
            top: self.top.max(other.top),
            right: self.right.min(other.right),
            bottom: self.bottom.min(other.bottom),
        };
        (both.width() > 0.0 && both.height() > 0.0).then_some(both)
    }

    /// The same with every side moved outwards.
    pub fn grown(self, by: f32) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }
}

/// Lengths of a tray in millimetres, and its grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shape {
    /// Inner width and depth of the container.
    pub container: (f32, f32),
    margin: f32,
    /// Width and height of a cell.
    pub cell: (f32, f32),
    /// Free strip between neighbouring cells.
    aisle: f32,
    pub rows: u16,
    pub columns: u16,
}

impl Shape {
    pub fn of(test: &Test, tray: &Tray) -> Self {
        let plan = &test.plan;
        let other = usize::from(tray.container)
            .checked_sub(1)
            .and_then(|other| plan.others.get(other));
        let (width, height, margin) = match other {
            Some(other) => (other.width_mm, other.height_mm, other.margin_mm),
            None => (plan.width_mm, plan.height_mm, plan.margin_mm),
        };
        let mut shape = Self {
            container: (width as f32, height as f32),
            margin: margin as f32,
            cell: (plan.cell_width_mm as f32, plan.cell_height_mm as f32),
            aisle: plan.aisle_mm as f32,
            rows: tray.rows,
            columns: tray.columns,
        };
        // A grid that was made by hand may be wider than its container.
        let last = shape.area(tray.rows, tray.columns);
        shape.container.0 = shape.container.0.max(last.right + shape.margin);
        shape.container.1 = shape.container.1.max(last.bottom + shape.margin);
        shape
    }

    /// The cell at a row and column, both from 1, in millimetres from the container's top left corner.
    pub fn area(&self, row: u16, column: u16) -> Area {
        let start = |number: u16, cell: f32| {
            let before = f32::from(number.max(1) - 1);
            self.margin + before * (cell + self.aisle)
        };
        Area::new((start(column, self.cell.0), start(row, self.cell.1)), self.cell)
    }

    /// Where a cell's text stands: the first cell leaves its upper part to the signs of the top left.
    pub fn text_area(&self, row: u16, column: u16) -> Area {
        let area = self.area(row, column);
        let is_first = row == 1 && column == 1;
        let signs = if is_first {
            area.width().min(area.height()) * (SIGNS + 0.06)
        } else {
            0.0
        };
        Area {
            top: area.top + signs.min(area.height() / 3.0),
            ..area
        }
    }

    pub fn whole(&self) -> Area {
        Area::new((0.0, 0.0), self.container)
    }

    /// The middle of the aisle behind each column and each row but the last, in millimetres.
    pub fn between(&self) -> (Vec<f32>, Vec<f32>) {
        let gap = |after: f32| after + self.aisle / 2.0;
        let across = (1..self.columns).map(|column| gap(self.area(1, column).right));
        let down = (1..self.rows).map(|row| gap(self.area(row, 1).bottom));
        (across.collect(), down.collect())
    }

    /// Where a drawing of the tray is cut, across and down, for sheets that hold `room` besides the strip by which
    /// neighbours overlap. From the first edge to the last one.
    pub fn cuts(&self, room: (f32, f32), overlap: f32) -> (Vec<f32>, Vec<f32>) {
        let (across, down) = self.between();
        (
            cut(self.container.0, room.0, overlap, &across),
            cut(self.container.1, room.1, overlap, &down),
        )
    }
}

/// Cuts a length into parts of at most `room`, between cells where that does not waste much of a sheet. The last part
/// has no neighbour behind it and may fill the overlap too.
fn cut(length: f32, room: f32, overlap: f32, between: &[f32]) -> Vec<f32> {
    /// The least part of a sheet that is filled for the sake of whole cells.
    const LEAST: f32 = 0.6;
    let mut cuts = vec![0.0];
    let mut at = 0.0;
    while length - at > room + overlap {
        let whole = between.iter().rev().find(|cut| **cut <= at + room);
        at = match whole {
            Some(cut) if *cut >= at + LEAST * room => *cut,
            _ => at + room,
        };
        cuts.push(at);
    }
    cuts.push(length);
    cuts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{OtherContainer, Recipe, SeasonId, TestId, TrayId, TrayPlan};

    #[test]
    fn a_tray_has_the_lengths_of_its_container_and_the_aisles_of_the_plan() {
        let test = Test {
            id: TestId(1),
            season: SeasonId(1),
            name: "Cold test".to_owned(),
            plan: TrayPlan {
                aisle_mm: 6.0,
                others: vec![OtherContainer {
                    name: "old bread tray".to_owned(),
                    width_mm: 250.0,
                    height_mm: 180.0,
                    margin_mm: 8.0,
                    trays: 1,
                }],
                ..TrayPlan::default()
            },
            recipe: Recipe::default(),
            seed: 1,
            check_lot: String::new(),
            laid: None,
        };
        let tray = |container: u16, rows: u16, columns: u16| Tray {
            id: TrayId(1),
            test: TestId(1),
            number: 1,
            replicate: 1,
            rows,
            columns,
            container,
        };
        let own = Shape::of(&test, &tray(0, 3, 7));
        assert_eq!(own.container, (406.4, 304.8));
        assert_eq!((own.area(1, 1).left, own.area(1, 2).left), (0.0, 56.8));
        let other = Shape::of(&test, &tray(1, 2, 4));
        assert_eq!(other.container, (250.0, 180.0));
        let last = other.area(2, 4);
        assert!((last.left - (8.0 + 3.0 * 56.8)).abs() < 1e-3, "{last:?}");
        assert!((last.top - (8.0 + 82.2)).abs() < 1e-3, "{last:?}");
        // Sheets are cut in the middle of an aisle.
        let (across, _) = own.cuts((178.0, 200.0), 10.0);
        assert!((across[1] - (3.0 * 56.8 - 3.0)).abs() < 1e-3, "{across:?}");
        // A grid made by hand that is wider than its container is drawn whole.
        let wide = Shape::of(&test, &tray(0, 3, 9));
        assert!((wide.container.0 - wide.area(1, 9).right).abs() < 1e-3);
    }

    #[test]
    fn a_drawing_is_cut_between_cells_and_nothing_is_lost() {
        // Eight cells of two inches on sheets that hold three and a half of them.
        let between: Vec<f32> = (1..8).map(|cell| cell as f32 * 50.8).collect();
        let cuts = cut(406.4, 178.0, 10.0, &between);
        assert_eq!(cuts, [0.0, 3.0 * 50.8, 6.0 * 50.8, 406.4]);
        // Cells wider than a sheet are cut anywhere.
        assert_eq!(cut(500.0, 180.0, 10.0, &[250.0]), [0.0, 180.0, 360.0, 500.0]);
        // What fits into room and overlap needs one sheet.
        assert_eq!(cut(188.0, 180.0, 10.0, &[94.0]), [0.0, 188.0]);
        assert_eq!(cut(191.0, 180.0, 10.0, &[]), [0.0, 180.0, 191.0]);
    }
}
