//! Running text and tables over as many pages as they need.

use super::pdf::EDGE_SIZE;
use super::{Fonts, Mark, Page, PrintSettings, Weight};

/// Height of a line over the size of its letters.
const LEADING: f32 = 1.35;
/// Height of the letters above the baseline over their size.
const RISE: f32 = 1.05;
/// Blank space left and right in a table cell, in points.
const CELL_SIDE: f32 = 4.0;
/// Blank space above and below in a table cell, in points.
const CELL_TOP: f32 = 2.5;
/// Size of a table's header, in points.
const HEADER_SIZE: f32 = 8.0;
/// Edge of a tick box, in points.
const BOX: f32 = 12.0;

/// Where a cell's text stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Align {
    /// At the left edge.
    #[default]
    Left,
    /// At the right edge, for numbers.
    Right,
}

/// How wide a column is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Width {
    /// So many points.
    Points(f32),
    /// As its widest cell, so that nothing in it is ever broken into lines but its header.
    Fit,
    /// So many parts of what the other columns leave.
    Share(f32),
}

/// One column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its header, repeated on every page.
    pub title: String,
    /// Its width.
    pub width: Width,
    /// Where its texts stand.
    pub align: Align,
    /// Size of its texts in points.
    pub size: f32,
    /// Weight of its texts.
    pub weight: Weight,
}

impl Column {
    /// A column of text at the left, 10 points, regular.
    pub fn text(title: impl Into<String>, width: Width) -> Self {
        Self {
            title: title.into(),
            width,
            align: Align::Left,
            size: 10.0,
            weight: Weight::Regular,
        }
    }

    /// A column of numbers at the right, 10 points, regular.
    pub fn number(title: impl Into<String>, width: Width) -> Self {
        Self {
            align: Align::Right,
            ..Self::text(title, width)
        }
    }

    /// The same column in another size and weight.
    #[must_use]
    pub fn set_in(self, size: f32, weight: Weight) -> Self {
        Self { size, weight, ..self }
    }
}

/// One cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Text, wrapped to the column.
    Text(String),
    /// An empty box to tick by hand.
    TickBox,
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self::Text(text.into())
    }
}

/// A table; cells beyond the columns are not drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows, each with as many cells as there are columns.
    pub rows: Vec<Vec<Cell>>,
}

/// Lays out text and tables from top to bottom, page after page.
pub struct Flow<'a> {
    fonts: &'a Fonts,
    left: f32,
    right: f32,
    top: f32,
    bottom: f32,
    y: f32,
    pages: Vec<Page>,
}

impl<'a> Flow<'a> {
    /// Begins on an empty page within the margins, clear of the running head and the foot.
    pub fn new(fonts: &'a Fonts, settings: &PrintSettings) -> Self {
        let (width, height) = settings.paper.size();
        let head = if settings.head.is_empty() {
            0.0
        } else {
            EDGE_SIZE * 2.2
        };
        let top = settings.margin + head;
        Self {
            fonts,
            left: settings.margin,
            right: width - settings.margin,
            top,
            bottom: height - settings.margin - EDGE_SIZE * 2.2,
            y: top,
            pages: vec![Page::default()],
        }
    }

    /// The pages laid out so far.
    pub fn into_pages(self) -> Vec<Page> {
        self.pages
    }

    /// Sets text over the whole width, wrapped, `size` points.
    pub fn text(&mut self, text: &str, size: f32, weight: Weight) {
        for line in self.fonts.wrap(text, size, weight, self.right - self.left) {
            self.need(size * LEADING);
            self.mark(Mark::Text {
                x: self.left,
                baseline: self.y + size * RISE,
                size,
                weight,
                text: line,
            });
            self.y += size * LEADING;
        }
    }

    /// Leaves `height` points blank; nothing at the top of a page.
    pub fn space(&mut self, height: f32) {
        if self.y > self.top {
            self.y += height;
        }
    }

    /// Goes to a new page if fewer than `height` points are left on this one.
    pub fn need(&mut self, height: f32) {
        if self.y + height > self.bottom && self.y > self.top {
            self.new_page();
        }
    }

    /// Sets a table with a header on every page. A row stays on one page unless it is taller than a page.
    pub fn table(&mut self, table: &Table) {
        let edges = self.column_edges(table);
        let header = self.header_lines(&table.columns, &edges);
        let header_height = row_height(&header);
        let first = table.rows.first().map_or(0.0, |row| {
            row_height(&self.row_lines(&table.columns, &edges, row))
        });
        self.need((header_height + first).min(self.bottom - self.top));
        self.header(&header, &edges);
        for row in &table.rows {
            let lines = self.row_lines(&table.columns, &edges, row);
            if self.y + row_height(&lines) > self.bottom {
                self.new_page();
                self.header(&header, &edges);
            }
            self.row(lines, &header, &edges);
        }
    }

    /// Draws a row, and what is taller than the rest of the page on the pages after it.
    fn row(&mut self, mut lines: Vec<CellLines>, header: &[CellLines], edges: &[(f32, f32)]) {
        loop {
            let room = self.bottom - self.y;
            let largest = largest_size(&lines);
            let rest: Vec<CellLines> = lines
                .iter_mut()
                .map(|cell| cell.split_off(room, largest))
                .collect();
            self.row_part(&lines, edges);
            self.rule(0.35);
            if rest.iter().all(|cell| cell.lines.is_empty()) {
                return;
            }
            lines = rest;
            self.new_page();
            self.header(header, edges);
        }
    }

    fn header(&mut self, header: &[CellLines], edges: &[(f32, f32)]) {
        self.row_part(header, edges);
        self.rule(1.0);
    }

    /// Draws cells at the current height, their first baselines on one line, and moves below them.
    fn row_part(&mut self, cells: &[CellLines], edges: &[(f32, f32)]) {
        let baseline = self.y + CELL_TOP + largest_size(cells) * RISE;
        for (cell, (left, right)) in cells.iter().zip(edges) {
            if cell.tick {
                let at = (left + CELL_SIDE, baseline - BOX * 0.85);
                self.mark(Mark::Frame {
                    at,
                    size: (BOX, BOX),
                    thickness: 0.8,
                });
            }
            for (index, line) in cell.lines.iter().enumerate() {
                let x = match cell.align {
                    Align::Left => left + CELL_SIDE,
                    Align::Right => right - CELL_SIDE - self.fonts.width(line, cell.size, cell.weight),
                };
                self.mark(Mark::Text {
                    x,
                    baseline: baseline + index as f32 * cell.size * LEADING,
                    size: cell.size,
                    weight: cell.weight,
                    text: line.clone(),
                });
            }
        }
        self.y += row_height(cells);
    }

    fn rule(&mut self, thickness: f32) {
        self.mark(Mark::Rule {
            from: (self.left, self.y),
            to: (self.right, self.y),
            thickness,
        });
    }

    fn mark(&mut self, mark: Mark) {
        if let Some(page) = self.pages.last_mut() {
            page.marks.push(mark);
        }
    }

    fn new_page(&mut self) {
        self.pages.push(Page::default());
        self.y = self.top;
    }

    /// Left and right edge of every column.
    fn column_edges(&self, table: &Table) -> Vec<(f32, f32)> {
        let widths: Vec<Width> = table
            .columns
            .iter()
            .enumerate()
            .map(|(at, _)| self.fitted(table, at))
            .collect();
        let points = |width: &Width| {
            if let Width::Points(points) = width {
                *points
            } else {
                0.0
            }
        };
        let shares = |width: &Width| {
            if let Width::Share(share) = width {
                *share
            } else {
                0.0
            }
        };
        let left_over = (self.right - self.left - widths.iter().map(points).sum::<f32>()).max(0.0);
        let part = left_over / widths.iter().map(shares).sum::<f32>().max(f32::EPSILON);
        let mut x = self.left;
        let edges = |width: &Width| {
            let left = x;
            x += points(width) + shares(width) * part;
            (left, x)
        };
        widths.iter().map(edges).collect()
    }

    /// The width of a column, in points where it is that of its widest cell.
    fn fitted(&self, table: &Table, at: usize) -> Width {
        let column = &table.columns[at];
        if column.width != Width::Fit {
            return column.width;
        }
        let words = column.title.split_whitespace();
        let titles = words.map(|word| self.fonts.width(word, HEADER_SIZE, Weight::Bold));
        let cells = table
            .rows
            .iter()
            .filter_map(|row| row.get(at))
            .map(|cell| match cell {
                Cell::Text(text) => self.fonts.width(text, column.size, column.weight),
                Cell::TickBox => BOX,
            });
        // A little more than measured, so that rounding never breaks the widest cell.
        Width::Points(titles.chain(cells).fold(0.0, f32::max) + 2.0 * CELL_SIDE + 0.1)
    }

    fn header_lines(&self, columns: &[Column], edges: &[(f32, f32)]) -> Vec<CellLines> {
        let title = |(column, edge): (&Column, &(f32, f32))| {
            let style = Column {
                size: HEADER_SIZE,
                weight: Weight::Bold,
                ..column.clone()
            };
            self.cell_lines(&style, *edge, &Cell::Text(column.title.clone()))
        };
        columns.iter().zip(edges).map(title).collect()
    }

    fn row_lines(&self, columns: &[Column], edges: &[(f32, f32)], row: &[Cell]) -> Vec<CellLines> {
        let cells = columns.iter().zip(edges).zip(row);
        cells
            .map(|((column, edge), cell)| self.cell_lines(column, *edge, cell))
            .collect()
    }

    fn cell_lines(&self, column: &Column, (left, right): (f32, f32), cell: &Cell) -> CellLines {
        let width = right - left - 2.0 * CELL_SIDE;
        let lines = match cell {
            Cell::Text(text) => self.fonts.wrap(text, column.size, column.weight, width),
            Cell::TickBox => Vec::new(),
        };
        CellLines {
            lines,
            tick: *cell == Cell::TickBox,
            size: if *cell == Cell::TickBox { BOX } else { column.size },
            weight: column.weight,
            align: column.align,
        }
    }
}

/// A cell wrapped into lines.
struct CellLines {
    lines: Vec<String>,
    tick: bool,
    size: f32,
    weight: Weight,
    align: Align,
}

impl CellLines {
    /// Height of the cell in a row whose largest letters have `largest` points: first baselines stand on one line.
    fn height(&self, largest: f32) -> f32 {
        let lines = self.lines.len().max(1) as f32;
        (largest - self.size) * RISE + lines * self.size * LEADING + 2.0 * CELL_TOP
    }

    /// Keeps the lines that fit into `room` points, at least one, and returns the others.
    fn split_off(&mut self, room: f32, largest: f32) -> Self {
        let lines_room = room - 2.0 * CELL_TOP - (largest - self.size) * RISE;
        let fits = (lines_room / (self.size * LEADING) + 0.01).floor().max(1.0) as usize;
        let lines = self.lines.split_off(fits.min(self.lines.len()));
        Self {
            lines,
            tick: false,
            ..*self
        }
    }
}

fn largest_size(cells: &[CellLines]) -> f32 {
    cells.iter().map(|cell| cell.size).fold(0.0, f32::max)
}

fn row_height(cells: &[CellLines]) -> f32 {
    let largest = largest_size(cells);
    cells.iter().map(|cell| cell.height(largest)).fold(0.0, f32::max)
}
