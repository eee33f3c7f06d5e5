//! The grid of a tray, and how many cells fit.

use super::LayoutFault;

/// The most rows or columns of a grid.
pub const MOST_PER_SIDE: u16 = 100;

/// Rows and columns of a tray, each from 1 to [`MOST_PER_SIDE`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Grid {
    rows: u16,
    columns: u16,
}

impl Grid {
    /// Takes the numbers of rows and columns.
    ///
    /// # Errors
    /// [`LayoutFault::GridSize`].
    pub const fn new(rows: u16, columns: u16) -> Result<Self, LayoutFault> {
        if rows == 0 || columns == 0 || rows > MOST_PER_SIDE || columns > MOST_PER_SIDE {
            return Err(LayoutFault::GridSize {
                rows: rows as u32,
                columns: columns as u32,
            });
        }
        Ok(Self { rows, columns })
    }

    /// Rows, counted from the far edge.
    pub const fn rows(self) -> u16 {
        self.rows
    }

    /// Columns, counted from the left.
    pub const fn columns(self) -> u16 {
        self.columns
    }

    /// All cells of one tray.
    pub const fn cells(self) -> usize {
        self.rows as usize * self.columns as usize
    }

    /// The row and the column, from 0, of a cell counted in reading order from 0.
    pub const fn place(self, cell: usize) -> (usize, usize) {
        (cell / self.columns as usize, cell % self.columns as usize)
    }

    /// Whether a cell, counted in reading order from 0, lies on the outer ring.
    pub const fn is_edge(self, cell: usize) -> bool {
        let (row, column) = self.place(cell);
        row == 0 || column == 0 || row + 1 == self.rows as usize || column + 1 == self.columns as usize
    }
}

/// A width (along the columns) and a height (along the rows), in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SizeMm {
    /// Width in millimetres, from left to right.
    pub width: f64,
    /// Height in millimetres, from the far edge to the near one.
    pub height: f64,
}

/// How many whole cells fit into a container, as both lie: neither is turned.
///
/// `margin_mm` is kept free on all four sides, and `aisle_mm` between neighbouring cells: n cells in a row take
/// n cells and n - 1 aisles. Lengths within a millionth of a cell count as fitting, so that 12 inches hold four
/// cells of 3 inches.
///
/// # Errors
/// [`LayoutFault::Length`], [`LayoutFault::NoCellFits`] and [`LayoutFault::GridSize`].
pub fn grid_of(container: SizeMm, cell: SizeMm, margin_mm: f64, aisle_mm: f64) -> Result<Grid, LayoutFault> {
    let lengths = [
        ("container width", container.width),
        ("container height", container.height),
        ("cell width", cell.width),
        ("cell height", cell.height),
    ];
    for (what, value) in lengths {
        if !(value > 0.0 && value.is_finite()) {
            return Err(LayoutFault::Length { what, value });
        }
    }
    for (what, value) in [("margin", margin_mm), ("aisle", aisle_mm)] {
        if !(value >= 0.0 && value.is_finite()) {
            return Err(LayoutFault::Distance { what, value });
        }
    }
    let columns = whole_cells("width", container.width - 2.0 * margin_mm, cell.width, aisle_mm)?;
    let rows = whole_cells(
        "height",
        container.height - 2.0 * margin_mm,
        cell.height,
        aisle_mm,
    )?;
    match (u16::try_from(rows), u16::try_from(columns)) {
        (Ok(rows), Ok(columns)) => Grid::new(rows, columns),
        _ => Err(LayoutFault::GridSize { rows, columns }),
    }
}

fn whole_cells(side: &'static str, room_mm: f64, cell_mm: f64, aisle_mm: f64) -> Result<u32, LayoutFault> {
    // Each cell brings an aisle; the last one may reach over the end of the room.
    let whole = ((room_mm + aisle_mm) / (cell_mm + aisle_mm) + 1e-6).floor();
    if whole < 1.0 {
        return Err(LayoutFault::NoCellFits {
            side,
            cell_mm,
            room_mm,
        });
    }
    // A cast from a float stops at the largest number, which Grid::new refuses.
    Ok(whole as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    const INCH: f64 = 25.4;

    fn inches(width: f64, height: f64) -> SizeMm {
        SizeMm {
            width: width * INCH,
            height: height * INCH,
        }
    }

    #[test]
    fn three_feet_by_one_hold_about_a_hundred_ears() {
        // About 100 ears in a tray of 3 by 1 feet, three such trays for about 300: common practice, no
        // source.
        let grid = grid_of(inches(36.0, 12.0), inches(1.25, 3.0), 0.0, 0.0).unwrap();
        assert_eq!((grid.rows(), grid.columns(), grid.cells()), (4, 28, 112));
        assert!(3 * grid.cells() >= 300);
        let turned = grid_of(inches(36.0, 12.0), inches(3.0, 1.25), 0.0, 0.0).unwrap();
        assert_eq!((turned.rows(), turned.columns()), (9, 12));
    }

    #[test]
    fn a_margin_takes_room_on_both_sides() {
        let size = |width, height| SizeMm { width, height };
        let grid = grid_of(size(100.0, 60.0), size(10.0, 10.0), 5.0, 0.0).unwrap();
        assert_eq!((grid.rows(), grid.columns()), (5, 9));
        let fault = grid_of(size(100.0, 60.0), size(10.0, 10.0), 26.0, 0.0).unwrap_err();
        assert_eq!(
            fault,
            LayoutFault::NoCellFits {
                side: "height",
                cell_mm: 10.0,
                room_mm: 8.0
            }
        );
        assert!(
            fault
                .to_string()
                .starts_with("no whole cell of 10 mm fits into 8 mm of height."),
            "{fault}"
        );
    }

    #[test]
    fn nonsense_is_refused() {
        let size = |width, height| SizeMm { width, height };
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(
                grid_of(size(bad, 60.0), size(10.0, 10.0), 0.0, 0.0).is_err(),
                "{bad}"
            );
            assert!(
                grid_of(size(100.0, 60.0), size(10.0, bad), 0.0, 0.0).is_err(),
                "{bad}"
            );
        }
        for bad in [-1.0, f64::NAN, f64::INFINITY, 1e300] {
            assert!(
                grid_of(size(100.0, 60.0), size(10.0, 10.0), bad, 0.0).is_err(),
                "{bad}"
            );
        }
        let tiny = grid_of(size(100.0, 60.0), size(1e-300, 10.0), 0.0, 0.0).unwrap_err();
        assert_eq!(
            tiny,
            LayoutFault::GridSize {
                rows: 6,
                columns: u32::MAX
            }
        );
        assert_eq!(
            Grid::new(0, 5),
            Err(LayoutFault::GridSize { rows: 0, columns: 5 })
        );
        assert_eq!(
            Grid::new(5, 101),
            Err(LayoutFault::GridSize {
                rows: 5,
                columns: 101
            })
        );
    }

    #[test]
    fn an_aisle_lies_between_cells_and_not_beside_them() {
        let size = |width, height| SizeMm { width, height };
        let grid = |width, height, aisle| {
            let grid = grid_of(size(width, height), size(50.0, 75.0), 0.0, aisle).unwrap();
            (grid.rows(), grid.columns())
        };
        // 4 cells and 3 aisles along 230 mm, 2 cells and 1 aisle along 160 mm.
        assert_eq!(grid(230.0, 160.0, 10.0), (2, 4));
        assert_eq!(grid(229.0, 159.0, 10.0), (1, 3));
        assert_eq!(grid(50.0, 75.0, 10.0), (1, 1));
        let tenths = |aisle| grid_of(size(10.0, 10.0), size(0.7, 0.7), 0.1, aisle).map(Grid::rows);
        // 13 times 0.7 and 12 times 0.05 are 9.7 of 9.8; without an aisle 14 times 0.7 are 9.8.
        assert_eq!((tenths(0.05), tenths(0.0)), (Ok(13), Ok(14)));
        for bad in [-0.1, f64::NAN, f64::INFINITY] {
            let fault = grid_of(size(100.0, 100.0), size(50.0, 75.0), 0.0, bad).unwrap_err();
            assert!(
                fault.to_string().contains("aisle") && fault.to_string().contains("or more"),
                "{fault}"
            );
        }
    }

    proptest::proptest! {
        #[test]
        fn what_fits_fits_and_one_more_does_not(
            (cells, cell, aisle) in (1..100u32, 5.0..200.0f64, 0.0..60.0f64), more in 0.01..0.99f64,
        ) {
            let size = |width| SizeMm { width, height: 50.0 };
            let needed = |cells: u32| f64::from(cells) * cell + f64::from(cells - 1) * aisle;
            let columns = |width| grid_of(size(width), SizeMm { width: cell, height: 50.0 }, 0.0, aisle)
                .map(|grid| u32::from(grid.columns()));
            proptest::prop_assert_eq!(columns(needed(cells)), Ok(cells));
            let between = needed(cells) + more * (cell + aisle);
            proptest::prop_assert_eq!(columns(between), Ok(cells));
        }
    }

    #[test]
    fn the_edge_is_the_outer_ring() {
        let grid = Grid::new(4, 5).unwrap();
        let inside: Vec<usize> = (0..grid.cells()).filter(|&cell| !grid.is_edge(cell)).collect();
        assert_eq!(inside, [6, 7, 8, 11, 12, 13]);
    }
}
