//! How a choice could be made otherwise, as pictures: the figures that move with the cutoff, and the frontier of shares.

use super::picture::axes::{CAPITAL, Frame, SMALL, Scale, words};
use super::picture::caption::{self, FOOT, MARGIN};
use super::picture::{Group, Picture, PictureOrder, picture_file};
use super::plot_picture::{foot_of, title_of};
use super::print::{Edge, Fonts, Ink, Mark, Outline, PrintFault, Watch, Weight};
use crate::insight::{Choice, Curve, CurveFigure, Estimates, Shares};
use crate::model::Project;

/// What the curve shows.
const CURVE: &str = "how the choice moves with the cold germination cutoff";
/// What the frontier shows.
const FRONTIER: &str = "the best mean at each effective size";
/// A line of figures.
const LINE: Edge = Edge::new(Ink::Colour([0x00, 0x68, 0xa8]), 1.6);
/// The cutoff that is set.
const HERE: Edge = Edge::dashed(Ink::Black, 0.9, 3.0);
/// Room at the left of a small plot for the numbers of its axis.
const NUMBERS: f32 = 38.0;
/// Room below a small plot for numbers and title.
const BELOW: f32 = 32.0;
/// Room above a small plot for its name.
const NAME: f32 = 15.0;
/// The least width of a small plot with its numbers.
const LEAST_WIDTH: f32 = 160.0;
/// The largest part of an axis that is left blank beyond the figures, on each side.
const BLANK: f64 = 0.08;
/// Half the size of a mark.
const MARK: f32 = 4.5;

/// Of what a picture is drawn.
#[derive(Clone, Copy)]
pub struct Chosen<'a> {
    /// The project.
    pub project: &'a Project,
    /// The choice under the cutoffs that are set.
    pub choice: &'a Choice,
    /// What the ears are likely to be.
    pub estimates: &'a Estimates,
}

/// Draws the six figures that move with the cold germination cutoff as a file. The same input gives the same bytes.
///
/// # Errors
/// As [`picture_file`].
pub fn curve_file(
    of: Chosen<'_>,
    curve: &Curve,
    order: PictureOrder,
    watch: Watch<'_>,
) -> Result<Vec<u8>, PrintFault> {
    let drawn = |fonts: &Fonts, size| curve_picture(fonts, of, curve, size, true);
    picture_file(order, &of.project.about.name, CURVE, drawn, watch)
}

/// Draws the frontier of shares as a file. The same input gives the same bytes.
///
/// # Errors
/// As [`picture_file`].
pub fn frontier_file(
    of: Chosen<'_>,
    shares: &Shares,
    order: PictureOrder,
    watch: Watch<'_>,
) -> Result<Vec<u8>, PrintFault> {
    let drawn = |fonts: &Fonts, size| frontier_picture(fonts, of, shares, size, true);
    picture_file(order, &of.project.about.name, FRONTIER, drawn, watch)
}

/// Draws the six figures in a picture of so many points, with or without title, sentences and foot.
pub fn curve_picture(
    fonts: &Fonts,
    of: Chosen<'_>,
    curve: &Curve,
    size: [f32; 2],
    captions: bool,
) -> Picture {
    let here = curve.here.map(|here| curve.points[here]);
    let mut about = vec![match here {
        Some(here) => format!(
            "The dashed line is the cutoff that is set, {} %; all other cutoffs stay as they are.",
            here.cutoff_percent
        ),
        None => "The cold germination cutoff is switched off; all other cutoffs stay as they are.".to_owned(),
    }];
    about.extend(curve.sentences());
    Leaf::new(fonts, of, CURVE, about.join(" "), size, captions).picture(|top, bottom| {
        let columns = ((size[0] - 2.0 * MARGIN) / LEAST_WIDTH).floor().clamp(1.0, 3.0);
        let rows = (CurveFigure::ALL.len() as f32 / columns).ceil();
        let wide = (size[0] - 2.0 * MARGIN) / columns;
        let high = (bottom - top) / rows;
        let mut groups = Vec::new();
        for (i, figure) in CurveFigure::ALL.into_iter().enumerate() {
            let (row, column) = ((i as f32 / columns).floor(), i as f32 % columns);
            let (left, upper) = (MARGIN + column * wide, top + row * high);
            let is_last = row + 1.0 >= rows;
            let area = [left, upper, left + wide - 14.0, upper + high];
            groups.push(small_plot(fonts, curve, figure, area, is_last));
        }
        groups
    })
}

/// One figure in an area of left, top, right and bottom; the lowest plots have the title of the cutoff.
fn small_plot(
    fonts: &Fonts,
    curve: &Curve,
    figure: CurveFigure,
    [left, top, right, bottom]: [f32; 4],
    is_last: bool,
) -> Group {
    let line = curve.line(figure);
    let here = curve.here.map(|here| &curve.points[here]);
    let now = here.and_then(|here| figure.at(here));
    let frame = Frame {
        left: left + NUMBERS,
        top: top + NAME,
        right: right.max(left + NUMBERS + 20.0),
        bottom: (bottom - BELOW).max(top + NAME + 20.0),
        x: Scale::new(if is_last { "Cutoff, %" } else { "" }, [0.0, 100.0]),
        y: Scale {
            least_step: if figure.is_whole { 1.0 } else { 0.0 },
            ..Scale::new("", room(line.iter().map(|at| at[1])))
        },
    };
    let mut marks = Vec::new();
    if let Some(here) = here {
        let x = frame.x_at(here.cutoff_percent);
        marks.push(drawn(vec![(x, frame.top), (x, frame.bottom)], HERE));
    }
    let places: Vec<(f32, f32)> = line.iter().map(|at| frame.at(*at)).collect();
    marks.push(drawn(places, LINE));
    if let Some((here, value)) = here.zip(now) {
        marks.push(disc(frame.at([here.cutoff_percent, value]), 3.0));
    }
    let baseline = frame.top - 4.0;
    let now = match (now, here) {
        (Some(value), _) if figure.is_whole => format!("{value:.0} now"),
        (Some(value), _) => format!("{value:.1} now"),
        (None, Some(_)) => "not known now".to_owned(),
        (None, None) => String::new(),
    };
    let wide = fonts.width(&now, FOOT, Weight::Regular);
    let room = frame.right - left - wide - 4.0;
    let name = fonts.shorten(figure.name, FOOT, Weight::Bold, room);
    let mut group = Group::new(id_of(figure.name), summary(figure, &line), Vec::new());
    group.marks = frame.grid().marks;
    group.marks.extend(marks);
    group.marks.extend(frame.axes(fonts).marks);
    group.marks.push(words(left, baseline, FOOT, Weight::Bold, name));
    group
        .marks
        .push(words(frame.right - wide, baseline, FOOT, Weight::Regular, now));
    group
}

/// A figure at every second cutoff, for who cannot see the line.
fn summary(figure: CurveFigure, line: &[[f64; 2]]) -> String {
    let said: Vec<String> = line
        .iter()
        .step_by(2)
        .map(|[cutoff, value]| format!("{cutoff} %: {value:.1}"))
        .collect();
    format!("{} by the cutoff. {}", figure.name, said.join("; "))
}

/// Draws what shares can do at the best in a picture of so many points, with or without title, sentences and foot.
pub fn frontier_picture(
    fonts: &Fonts,
    of: Chosen<'_>,
    shares: &Shares,
    size: [f32; 2],
    captions: bool,
) -> Picture {
    let about = format!("{} {}", shares.frontier_text(), shares.assumptions());
    Leaf::new(fonts, of, FRONTIER, about, size, captions).picture(|top, bottom| {
        let line: Vec<[f64; 2]> = shares
            .frontier
            .iter()
            .filter_map(|one| shares.place(*one))
            .collect();
        let ways = [shares.equal, shares.shared].map(|way| way.and_then(|way| shares.place(way)));
        let all = || line.iter().chain(ways.iter().flatten());
        let frame = Frame {
            left: MARGIN + NUMBERS + 12.0,
            top: top + 18.0,
            right: (size[0] - MARGIN - 8.0).max(MARGIN + NUMBERS + 32.0),
            bottom: (bottom - BELOW).max(top + 38.0),
            x: Scale::new("Effective size", room(all().map(|at| at[0]))),
            y: Scale::new("Likely cold germination, %", room(all().map(|at| at[1]))),
        };
        let mut best = frame.grid().marks;
        best.push(drawn(line.iter().map(|at| frame.at(*at)).collect(), LINE));
        let mut groups = vec![
            Group::new("best", "The best that shares can do", best),
            frame.axes(fonts),
        ];
        let [equal, shared] = ways;
        if let Some(at) = equal {
            let title = "Equal kernels of every ear";
            groups.push(Group::new("equal", title, vec![triangle(frame.at(at))]));
        }
        if let Some(at) = shared {
            let marks = vec![disc(frame.at(at), MARK)];
            groups.push(Group::new("shared", "Kernels shared out", marks));
        }
        groups.push(key(fonts, top + 6.0, ways.map(|way| way.is_some())));
        groups
    })
}

/// What stands for what in the frontier.
fn key(fonts: &Fonts, middle: f32, [equal, shared]: [bool; 2]) -> Group {
    let mut marks = Vec::new();
    let mut x = MARGIN;
    let mut item = |sample: &dyn Fn((f32, f32)) -> Mark, text: &str| {
        marks.push(sample((x + 8.0, middle)));
        let baseline = middle + CAPITAL * SMALL / 2.0;
        marks.push(words(x + 20.0, baseline, SMALL, Weight::Regular, text));
        x += 34.0 + fonts.width(text, SMALL, Weight::Regular);
    };
    item(
        &|(x, y)| drawn(vec![(x - 8.0, y), (x + 8.0, y)], LINE),
        "the best that shares can do",
    );
    if equal {
        item(&triangle, "equal kernels of every ear");
    }
    if shared {
        item(&|at| disc(at, MARK), "shared out, as it is set");
    }
    Group::new("key", "", marks)
}

/// One picture with its captions.
struct Leaf<'a> {
    fonts: &'a Fonts,
    title: String,
    about: String,
    foot: String,
    size: (f32, f32),
    captions: bool,
}

impl<'a> Leaf<'a> {
    fn new(
        fonts: &'a Fonts,
        of: Chosen<'_>,
        what: &str,
        about: String,
        [width, height]: [f32; 2],
        captions: bool,
    ) -> Self {
        Self {
            fonts,
            title: title_of(of.project, of.choice, what),
            about,
            foot: foot_of(of.project, of.choice, &of.estimates.outcome),
            size: (width, height),
            captions,
        }
    }

    /// The picture with what `inner` draws between a top and a bottom.
    fn picture(self, inner: impl FnOnce(f32, f32) -> Vec<Group>) -> Picture {
        let (mut groups, mut top, mut bottom) = (Vec::new(), 2.0, self.size.1);
        if self.captions {
            let (head, end) = caption::head(self.fonts, &self.title, &self.about, self.size.0);
            let (foot, begin) = caption::foot(self.fonts, &self.foot, self.size);
            groups.extend([Group::new("head", "", head), foot]);
            (top, bottom) = (end + 10.0, begin);
        }
        groups.extend(inner(top, bottom));
        Picture {
            title: self.title,
            about: self.about,
            size: self.size,
            groups,
        }
    }
}

/// The ends of an axis for these values, with a little blank on both sides.
fn room(values: impl Iterator<Item = f64>) -> [f64; 2] {
    let ends = values.fold(None, |ends: Option<[f64; 2]>, value| {
        let [low, high] = ends.unwrap_or([value, value]);
        Some([low.min(value), high.max(value)])
    });
    let [low, high] = ends.unwrap_or([0.0, 1.0]);
    // One value alone still needs an axis.
    let blank = if high > low { BLANK * (high - low) } else { 1.0 };
    [low - blank, high + blank]
}

fn drawn(points: Vec<(f32, f32)>, edge: Edge) -> Mark {
    Mark::Form {
        outline: Outline::Line(points),
        fill: None,
        edge: Some(edge),
    }
}

fn disc(middle: (f32, f32), radius: f32) -> Mark {
    Mark::Form {
        outline: Outline::Circle { middle, radius },
        fill: Some(LINE.ink),
        edge: Some(Edge::new(Ink::White, 0.6)),
    }
}

fn triangle((x, y): (f32, f32)) -> Mark {
    let corners = vec![
        (x, y - MARK - 1.0),
        (x + MARK, y + MARK - 1.0),
        (x - MARK, y + MARK - 1.0),
    ];
    Mark::Form {
        outline: Outline::Polygon(corners),
        fill: Some(Ink::White),
        edge: Some(Edge::new(Ink::Black, 1.2)),
    }
}

/// A name without what an id cannot hold.
fn id_of(name: &str) -> String {
    let words = name.split(|letter: char| !letter.is_alphanumeric());
    let words: Vec<String> = words
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join("-")
}
