//! Running text and tables over as many pages as they need.

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
/// Size of a line that goes across a table, in points.
const ACROSS_SIZE: f32 = 11.0;

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
    /// A box that is ticked already.
    Ticked,
    /// As the first cell of a row: bold text over the whole width of the table. Cells behind it are not drawn.
    Across(String),
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
    /// Numbers of rows that stay together on a page where they fit, in order; rows beyond stand for themselves.
    pub groups: Vec<usize>,
    /// Whether every cell is framed, as a form to be filled in.
    pub is_form: bool,
    /// The least height of a row in points.
    pub least_height: f32,
}

/// Something on a line that is filled in by hand.
#[derive(Debug, Clone, PartialEq)]
pub enum FormItem {
    /// A box to tick, with its text.
    Tick(String),
    /// A text with a rule behind it to write on. The rules of a line share what its texts leave.
    Blank(String),
}

/// Lays out text and tables from top to bottom, page after page.
pub struct Flow<'a> {
    fonts: &'a Fonts,
    left: f32,
    right: f32,
    top: f32,
    bottom: f32,
    y: f32,
    /// Where the content of this page begins.
    begin: f32,
    running: Option<(String, Vec<FormItem>)>,
    pages: Vec<Page>,
}

impl<'a> Flow<'a> {
    /// Begins on an empty page within the margins, clear of the running head and the foot.
    pub fn new(fonts: &'a Fonts, settings: &PrintSettings) -> Self {
        let (left, top, right, bottom) = settings.room();
        Self {
            fonts,
            left,
            right,
            top,
            bottom,
            y: top,
            begin: top,
            running: None,
            pages: vec![Page::default()],
        }
    }

    /// The pages laid out so far.
    pub fn into_pages(self) -> Vec<Page> {
        self.pages
    }

    /// Sets a text and a line to be filled in at the top of every page from the next one on.
    pub fn running(&mut self, text: &str, items: &[FormItem]) {
        self.running = Some((text.to_owned(), items.to_vec()));
    }

    /// Ends what is set at the top of every page.
    pub fn nothing_running(&mut self) {
        self.running = None;
    }

    /// Sets a line that is filled in by hand, 11 points.
    pub fn form_line(&mut self, items: &[FormItem]) {
        const SIZE: f32 = 11.0;
        const GAP: f32 = 14.0;
        const HEIGHT: f32 = SIZE * 2.1;
        if items.is_empty() {
            return;
        }
        self.need(HEIGHT);
        let text_width = |item: &FormItem| match item {
            FormItem::Tick(text) => BOX + CELL_SIDE + self.fonts.width(text, SIZE, Weight::Regular),
            FormItem::Blank(text) => self.fonts.width(text, SIZE, Weight::Regular) + CELL_SIDE,
        };
        let widths: Vec<f32> = items.iter().map(text_width).collect();
        let blanks = items
            .iter()
            .filter(|item| matches!(item, FormItem::Blank(_)))
            .count();
        let used = widths.iter().sum::<f32>() + (items.len() - 1) as f32 * GAP;
        let rule = ((self.right - self.left - used) / blanks.max(1) as f32).max(0.0);
        let baseline = self.y + HEIGHT * 0.72;
        let mut x = self.left;
        for (item, width) in items.iter().zip(widths) {
            let (text, text_x) = match item {
                FormItem::Tick(text) => {
                    self.mark(Mark::Frame {
                        at: (x, baseline - BOX * 0.85),
                        size: (BOX, BOX),
                        thickness: 0.8,
                    });
                    (text, x + BOX + CELL_SIDE)
                }
                FormItem::Blank(text) => (text, x),
            };
            self.mark(Mark::Text {
                x: text_x,
                baseline,
                size: SIZE,
                weight: Weight::Regular,
                text: text.clone(),
            });
            x += width;
            if matches!(item, FormItem::Blank(_)) {
                self.mark(Mark::Rule {
                    from: (x, baseline + 1.5),
                    to: (x + rule, baseline + 1.5),
                    thickness: 0.6,
                });
                x += rule;
            }
            x += GAP;
        }
        self.y += HEIGHT;
    }

    /// Goes to a new page unless this one is empty.
    pub fn break_page(&mut self) {
        if self.y > self.begin {
            self.new_page();
        }
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

    /// Width of the text, in points.
    pub fn width(&self) -> f32 {
        self.right - self.left
    }

    /// Sets a drawing of so many points of height at the left edge, whole on one page.
    pub fn drawing(&mut self, marks: impl IntoIterator<Item = Mark>, height: f32) {
        self.need(height);
        let by = (self.left, self.y);
        for mark in marks {
            self.mark(mark.moved(by));
        }
        self.y += height;
    }

    /// Leaves `height` points blank; nothing at the top of a page.
    pub fn space(&mut self, height: f32) {
        if self.y > self.begin {
            self.y += height;
        }
    }

    /// Goes to a new page if fewer than `height` points are left on this one.
    pub fn need(&mut self, height: f32) {
        if self.y + height > self.bottom && self.y > self.begin {
            self.new_page();
        }
    }

    /// Sets a table with a header on every page. A row stays on one page unless it is taller than a page.
    pub fn table(&mut self, table: &Table) {
        let edges = self.column_edges(table);
        let header = self.header_lines(&table.columns, &edges);
        let header_height = header.height();
        let mut groups = table.groups.iter().copied();
        let mut rows = table.rows.as_slice();
        let mut is_begun = false;
        while !rows.is_empty() || !is_begun {
            let (group, rest) = rows.split_at(groups.next().unwrap_or(1).max(1).min(rows.len()));
            rows = rest;
            let lines: Vec<RowLines> = group
                .iter()
                .map(|row| self.row_lines(table, &edges, row))
                .collect();
            let together: f32 = lines.iter().map(RowLines::height).sum();
            if !is_begun {
                let first = lines.first().map_or(0.0, RowLines::height);
                let fits = self.begin + header_height + together <= self.bottom;
                self.need(header_height + if fits { together } else { first });
                self.header(&header, table.is_form);
                is_begun = true;
            } else if self.y + together > self.bottom && self.begin + header_height + together <= self.bottom
            {
                self.new_page();
                self.header(&header, table.is_form);
            }
            let count = lines.len();
            for (index, row) in lines.into_iter().enumerate() {
                if self.y + row.height() > self.bottom {
                    self.new_page();
                    self.header(&header, table.is_form);
                }
                self.row(row, &header, table.is_form);
                if count > 1 && index + 1 == count {
                    self.rule(1.2);
                }
            }
        }
    }

    /// Draws a row, and what is taller than the rest of the page on the pages after it.
    fn row(&mut self, mut row: RowLines, header: &RowLines, is_form: bool) {
        loop {
            let rest = row.split_off(self.bottom - self.y);
            self.row_part(&row, is_form);
            self.rule(0.35);
            let Some(rest) = rest else { return };
            row = rest;
            self.new_page();
            self.header(header, is_form);
        }
    }

    fn header(&mut self, header: &RowLines, is_form: bool) {
        if is_form {
            self.rule(1.0);
        }
        self.row_part(header, is_form);
        self.rule(1.0);
    }

    /// Draws cells at the current height, their first baselines on one line, and moves below them.
    fn row_part(&mut self, row: &RowLines, is_form: bool) {
        let spare = (row.least_height - row_height(&row.cells)).max(0.0);
        let baseline = self.y + spare / 2.0 + CELL_TOP + largest_size(&row.cells) * RISE;
        for (cell, (left, right)) in row.cells.iter().zip(&row.edges) {
            if cell.tick {
                let at = (left + CELL_SIDE, baseline - BOX * 0.85);
                self.mark(Mark::Frame {
                    at,
                    size: (BOX, BOX),
                    thickness: 0.8,
                });
                if cell.is_ticked {
                    let corner = |x: f32, y: f32| (at.0 + x * BOX, at.1 + y * BOX);
                    for (from, to) in [
                        (corner(0.2, 0.5), corner(0.42, 0.78)),
                        (corner(0.42, 0.78), corner(0.85, 0.15)),
                    ] {
                        self.mark(Mark::Rule {
                            from,
                            to,
                            thickness: 1.6,
                        });
                    }
                }
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
        let top = self.y;
        self.y += row.height();
        if is_form {
            let rights = row.edges.iter().map(|(_, right)| *right);
            for x in std::iter::once(self.left).chain(rights).collect::<Vec<_>>() {
                self.mark(Mark::Rule {
                    from: (x, top),
                    to: (x, self.y),
                    thickness: 0.35,
                });
            }
        }
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
        self.begin = self.bottom;
        if let Some((text, items)) = self.running.clone() {
            self.text(&text, 13.0, Weight::Bold);
            self.form_line(&items);
            self.y += 4.0;
        }
        self.begin = self.y;
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
            .filter(|row| !matches!(row.first(), Some(Cell::Across(_))))
            .filter_map(|row| row.get(at))
            .map(|cell| match cell {
                Cell::Text(text) => self.fonts.width(text, column.size, column.weight),
                Cell::TickBox | Cell::Ticked => BOX,
                Cell::Across(_) => 0.0,
            });
        // A little more than measured, so that rounding never breaks the widest cell.
        Width::Points(titles.chain(cells).fold(0.0, f32::max) + 2.0 * CELL_SIDE + 0.1)
    }

    fn header_lines(&self, columns: &[Column], edges: &[(f32, f32)]) -> RowLines {
        let title = |(column, edge): (&Column, &(f32, f32))| {
            let style = Column {
                size: HEADER_SIZE,
                weight: Weight::Bold,
                ..column.clone()
            };
            self.cell_lines(&style, *edge, &Cell::Text(column.title.clone()))
        };
        RowLines {
            cells: columns.iter().zip(edges).map(title).collect(),
            edges: edges.to_vec(),
            least_height: 0.0,
        }
    }

    fn row_lines(&self, table: &Table, edges: &[(f32, f32)], row: &[Cell]) -> RowLines {
        let least_height = table.least_height;
        if let Some(cell @ Cell::Across(_)) = row.first() {
            let style = Column::text("", Width::Share(1.0)).set_in(ACROSS_SIZE, Weight::Bold);
            let edges = vec![(self.left, self.right)];
            return RowLines {
                cells: vec![self.cell_lines(&style, edges[0], cell)],
                edges,
                least_height,
            };
        }
        let cells = table.columns.iter().zip(edges).zip(row);
        RowLines {
            cells: cells
                .map(|((column, edge), cell)| self.cell_lines(column, *edge, cell))
                .collect(),
            edges: edges.to_vec(),
            least_height,
        }
    }

    fn cell_lines(&self, column: &Column, (left, right): (f32, f32), cell: &Cell) -> CellLines {
        let is_box = matches!(cell, Cell::TickBox | Cell::Ticked);
        let width = right - left - 2.0 * CELL_SIDE;
        let lines = match cell {
            Cell::Text(text) | Cell::Across(text) => self.fonts.wrap(text, column.size, column.weight, width),
            Cell::TickBox | Cell::Ticked => Vec::new(),
        };
        CellLines {
            lines,
            tick: is_box,
            is_ticked: *cell == Cell::Ticked,
            size: if is_box { BOX } else { column.size },
            weight: column.weight,
            align: column.align,
        }
    }
}

/// A row of cells wrapped into lines, with the left and right edge of each.
struct RowLines {
    cells: Vec<CellLines>,
    edges: Vec<(f32, f32)>,
    least_height: f32,
}

impl RowLines {
    fn height(&self) -> f32 {
        row_height(&self.cells).max(self.least_height)
    }

    /// Keeps what fits into `room` points, at least a line of each cell, and returns the rest if there is any.
    fn split_off(&mut self, room: f32) -> Option<Self> {
        let largest = largest_size(&self.cells);
        let rest: Vec<CellLines> = self
            .cells
            .iter_mut()
            .map(|cell| cell.split_off(room, largest))
            .collect();
        let is_whole = rest.iter().all(|cell| cell.lines.is_empty());
        (!is_whole).then(|| Self {
            cells: rest,
            edges: self.edges.clone(),
            least_height: 0.0,
        })
    }
}

/// A cell wrapped into lines.
struct CellLines {
    lines: Vec<String>,
    tick: bool,
    is_ticked: bool,
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
