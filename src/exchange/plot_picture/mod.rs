//! The plot of Selection as a picture: ears by maturity and cold germination, for paper and for other programs.

mod marks;

use super::picture::axes::{CAPITAL, Frame, SMALL, Scale, words};
use super::picture::caption::{self, FOOT, MARGIN};
use super::picture::{Group, Picture, PictureForm, PictureOrder, picture_file};
use super::print::{Edge, Fonts, Ink, Mark, Outline, Paper, PrintFault, Watch, Weight};
use crate::insight::{
    Axis, Band, Bar, Choice, Edges, Estimates, Field, Standing, Vertical, band, place_of, stand_index,
};
use crate::model::{Cutoffs, EarId, Project, Stand, WordKind};
use crate::stats::Cutoff;
use marks::{BAND, BAND_END, BARS, INTERVAL, STANDS, Sample, form, ring};

/// Behind the marks that have a figure less.
const STRIP: Ink = Ink::Colour([0xf1, 0xee, 0xe7]);
/// A cutoff.
const CUTOFF: Edge = Edge::new(Ink::Black, 1.4);

/// What is drawn.
const WHAT: &str = "ears by maturity and cold germination";
/// Height of the distribution of days and width of that of percents.
const BESIDE: f32 = 46.0;
/// Room for the words at a cutoff.
const AT_CUTOFF: f32 = 46.0;
/// Size of a label at a mark.
const LABEL: f32 = 7.5;
/// Of how many labelled ears the intervals are drawn; those of more would be a thicket.
const MOST_INTERVALS: usize = 24;
/// Of how many ears the marks are smaller.
const CROWD: usize = 2_000;

/// Which plot is drawn, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct PlotOrder {
    /// What lies across and up.
    pub axes: [Axis; 2],
    /// Width and height of a PNG in dots. An SVG has the same sides with a point for two dots.
    pub dots: [u32; 2],
    /// The sheet of a PDF, which lies on its long side.
    pub paper: Paper,
    /// Left, right, bottom and top of what is shown, in the units of the axes; none shows all ears.
    pub view: Option<[f64; 4]>,
    /// Which stands are shown, in the order of [`Stand::ALL`].
    pub shown: [bool; 4],
    /// Ears that are named by their numbers, the first first where there is too little room.
    pub labelled: Vec<EarId>,
    /// Whether the intervals of the labelled ears are drawn, where they are at most 24.
    pub intervals: bool,
    /// Whether the picture has its title, its sentences and its foot; a print that it is part of has its own.
    pub captions: bool,
}

impl Default for PlotOrder {
    /// The whole plot without labels, of 1600 by 1000 dots.
    fn default() -> Self {
        Self {
            axes: Axis::USUAL,
            dots: [1600, 1000],
            paper: Paper::default(),
            view: None,
            shown: [true; 4],
            labelled: Vec::new(),
            intervals: false,
            captions: true,
        }
    }
}

/// Draws the plot of Selection as a file: the ears of a choice under its cutoffs. The same input gives the same bytes.
///
/// # Errors
/// The sides in dots are not in [`DOTS`]; the PDF writer refuses; whoever watches says stop.
///
/// [`DOTS`]: super::picture::DOTS
pub fn plot_file(
    project: &Project,
    choice: &Choice,
    estimates: &Estimates,
    order: &PlotOrder,
    form: PictureForm,
    watch: Watch<'_>,
) -> Result<Vec<u8>, PrintFault> {
    let file = PictureOrder {
        form,
        dots: order.dots,
        paper: order.paper,
    };
    let drawn = |fonts: &Fonts, size| plot_picture(fonts, project, choice, estimates, order, size);
    picture_file(file, &project.about.name, WHAT, drawn, watch)
}

/// Draws the plot of Selection in a picture of so many points.
pub fn plot_picture(
    fonts: &Fonts,
    project: &Project,
    choice: &Choice,
    estimates: &Estimates,
    order: &PlotOrder,
    size: [f32; 2],
) -> Picture {
    let cutoffs = &choice.cutoffs;
    let cutoff = cutoffs.germination_percent;
    let cutoff = cutoff.and_then(|percent| Cutoff::from_percent(percent).ok());
    let field = Field::new(project, &choice.standings, order.axes);
    let bands = order.axes.map(|axis| {
        let vertical = axis.germination()?;
        band(estimates, cutoff?, cutoffs.sureness, vertical)
    });
    let plot = Plot {
        fonts,
        project,
        order,
        size: (size[0], size[1]),
        choice,
        edges: &Edges::new(&choice.standings, &field),
        field: &field,
        bands,
        model: &estimates.outcome,
    };
    plot.picture()
}

struct Plot<'a> {
    fonts: &'a Fonts,
    project: &'a Project,
    order: &'a PlotOrder,
    /// Width and height of the picture in points.
    size: (f32, f32),
    choice: &'a Choice,
    edges: &'a Edges,
    field: &'a Field,
    /// Where kernels cannot tell, across and up.
    bands: [Option<Band>; 2],
    model: &'a str,
}

impl Plot<'_> {
    fn picture(&self) -> Picture {
        let title = title_of(self.project, self.choice, WHAT);
        let about = self.about();
        let (head, top) = self.head(&title, &about);
        let (foot, bottom) = self.foot();
        let frame = self.frame(top, bottom);
        let mut groups = vec![head, self.areas(&frame), frame.grid(), self.distributions(&frame)];
        let mut ears = self.ears(&frame);
        // A cutoff would strike out the marks on it; in a crowd, the marks would hide the cutoff.
        let place = if self.is_crowd() { ears.len() } else { 0 };
        ears.insert(place, self.cutoffs(&frame));
        groups.extend(ears);
        groups.extend([frame.axes(self.fonts), self.labels(&frame), foot]);
        Picture {
            title,
            about,
            size: self.size,
            groups,
        }
    }

    /// What is seen, in sentences.
    fn about(&self) -> String {
        let summary = &self.choice.summary;
        let cutoffs = self.project.cutoffs_text(&self.choice.cutoffs);
        let mut about = vec![format!(
            "{} of {} ears to plant, of {} of {} mother rows. Cutoffs: {}.",
            summary.kept,
            summary.ears,
            summary.mothers_kept,
            summary.mothers,
            cutoffs.trim_end_matches('.')
        )];
        let outside = self.seen().filter(|(_, spot)| !self.is_in_view(*spot)).count();
        if outside > 0 {
            about.push(format!("{outside} ears lie outside of what is shown."));
        }
        let hidden: Vec<&str> = Stand::ALL
            .into_iter()
            .zip(self.order.shown)
            .filter(|(_, shown)| !shown)
            .map(|(stand, _)| stand.name())
            .collect();
        if !hidden.is_empty() {
            about.push(format!("Not shown: {}.", hidden.join(", ")));
        }
        about.join(" ")
    }

    /// The ears of the stands that are shown, with their places.
    fn seen(&self) -> impl Iterator<Item = (&Standing, [f64; 2])> {
        let places = self.choice.standings.iter().zip(self.field.spots.iter().copied());
        places.filter(|(standing, _)| self.order.shown[stand_index(standing.stand)])
    }

    fn is_crowd(&self) -> bool {
        self.field.spots.len() > CROWD
    }

    fn has_intervals(&self) -> bool {
        let has_germination = self.order.axes.iter().any(|axis| axis.germination().is_some());
        self.order.intervals && has_germination && (1..=MOST_INTERVALS).contains(&self.order.labelled.len())
    }

    fn bounds(&self) -> [f64; 4] {
        self.order.view.unwrap_or_else(|| self.field.bounds())
    }

    fn is_in_view(&self, [x, y]: [f64; 2]) -> bool {
        let [left, right, bottom, top] = self.bounds();
        (left..=right).contains(&x) && (bottom..=top).contains(&y)
    }

    /// Title, sentences and legend, and where they end.
    fn head(&self, title: &str, about: &str) -> (Group, f32) {
        let (mut marks, end) = if self.order.captions {
            caption::head(self.fonts, title, about, self.size.0)
        } else {
            (Vec::new(), -5.0)
        };
        let bottom = self.legend(&mut marks, end + 5.0);
        (Group::new("head", "", marks), bottom + 6.0)
    }

    /// What the forms mean, in as many lines as it takes, and where it ends.
    fn legend(&self, marks: &mut Vec<Mark>, top: f32) -> f32 {
        let summary = &self.choice.summary;
        let counts = [summary.kept, summary.retest, summary.left_out, summary.not_scored];
        let mut items: Vec<(Sample, String)> = Stand::ALL
            .into_iter()
            .zip(counts)
            .filter(|(stand, _)| self.order.shown[stand_index(*stand)])
            .map(|(stand, count)| (Sample::Stand(stand), format!("{} ({count})", stand.name())))
            .collect();
        let given: Vec<WordKind> = self.words().map(|(_, kind)| kind).collect();
        for kind in WordKind::ALL.into_iter().filter(|kind| given.contains(kind)) {
            items.push((Sample::Word(kind), kind.name().to_owned()));
        }
        if let Some(band) = self.bands[1].or(self.bands[0]) {
            items.push((Sample::Band, format!("{} kernels cannot tell", band.kernels)));
        }
        items.push((Sample::Bar(BARS), "all ears".to_owned()));
        items.push((Sample::Bar(STANDS[0]), "to plant".to_owned()));
        if self.has_intervals() {
            let mut verticals = self.order.axes.iter().filter_map(|axis| axis.germination());
            let text = match verticals.next_back() {
                Some(Vertical::Likely) => "90 % range of what is likely",
                _ => "95 % interval of what was counted",
            };
            items.push((Sample::Interval, text.to_owned()));
        }
        let right = self.size.0 - MARGIN;
        let (mut x, mut middle) = (MARGIN, top + 7.0);
        for (sample, text) in items {
            let wide = 22.0 + self.fonts.width(&text, SMALL, Weight::Regular);
            if x + wide > right && x > MARGIN {
                x = MARGIN;
                middle += 14.0;
            }
            sample.draw(marks, (x + 8.0, middle));
            marks.push(words(
                x + 20.0,
                middle + CAPITAL * SMALL / 2.0,
                SMALL,
                Weight::Regular,
                text,
            ));
            x += wide + 12.0;
        }
        middle + 7.0
    }

    /// The model, the frozen list and what the figures are not, and where they begin.
    fn foot(&self) -> (Group, f32) {
        if !self.order.captions {
            return (Group::default(), self.size.1);
        }
        caption::foot(
            self.fonts,
            &foot_of(self.project, self.choice, self.model),
            self.size,
        )
    }

    fn frame(&self, top: f32, bottom: f32) -> Frame {
        let [left, right, low, high] = self.bounds();
        let x = self.scale(0, [left, right]);
        let y = self.scale(1, [low, high]);
        let top = top + BESIDE + 1.3 * SMALL;
        Frame {
            left: MARGIN + 46.0,
            top,
            // A picture that is too small for its words has a plot all the same.
            right: (self.size.0 - MARGIN - BESIDE - AT_CUTOFF).max(MARGIN + 66.0),
            bottom: (bottom - 32.0).max(top + 20.0),
            x,
            y,
        }
    }

    fn scale(&self, side: usize, range: [f64; 2]) -> Scale {
        let shown = &self.field.axes[side];
        let within = match shown.axis {
            Axis::Germination(_) => [0.0, 100.0],
            Axis::Vigor => [0.0, 9.0],
            _ => [shown.span[0].min(0.0), shown.span[1] + 0.5 * shown.bar],
        };
        Scale {
            within,
            least_step: if shown.axis.is_whole(self.project) || shown.axis.germination().is_some() {
                1.0
            } else {
                0.0
            },
            named: shown.strip.map(|strip| (strip[1], "none")),
            ..Scale::new(shown.axis.label(self.project), range)
        }
    }

    /// Strips for what has no figure, and the band where kernels cannot tell.
    fn areas(&self, frame: &Frame) -> Group {
        let all = [f64::MIN, f64::MAX];
        let [days, percents] = &self.field.axes;
        let mut marks = Vec::new();
        let mut area = |across, up, fill, edge: Option<Edge>| {
            if let Some(outline) = frame.area(across, up) {
                let fill = Some(fill);
                marks.push(Mark::Form { outline, fill, edge });
            }
        };
        if let Some(band) = self.bands[1] {
            let right = days.strip.map_or(f64::MAX, |strip| strip[0]);
            area([f64::MIN, right], [band.low, band.high], BAND, Some(BAND_END));
        }
        if let Some(band) = self.bands[0] {
            let low = percents.strip.map_or(f64::MIN, |strip| strip[2]);
            area([band.low, band.high], [low, f64::MAX], BAND, Some(BAND_END));
        }
        if let Some([low, _, high]) = percents.strip {
            area(all, [low, high], STRIP, None);
        }
        if let Some([left, _, right]) = days.strip {
            area([left, right], all, STRIP, None);
        }
        Group::new("areas", "", marks)
    }

    /// How many ears have which figures, above and beside: all ears, and those to plant over them.
    fn distributions(&self, frame: &Frame) -> Group {
        let mut marks = Vec::new();
        let most = |bars: &[Bar]| bars.iter().map(|bar| bar.ears[0]).max().unwrap_or(0).max(1) as f32;
        let inks = [BARS, STANDS[0]];
        let room = BESIDE - 6.0;
        let mut bar = |a, b, ink| {
            let (outline, fill) = (Outline::rectangle(a, b), Some(ink));
            marks.push(Mark::Form {
                outline,
                fill,
                edge: None,
            });
        };
        let [across, up] = &self.edges.0;
        let half = [0, 1].map(|side| 0.42 * self.field.axes[side].bar);
        let scale = room / most(across);
        for one in across {
            let ends = [one.at - half[0], one.at + half[0]];
            let ends = ends.map(|end| frame.x_at(end).clamp(frame.left, frame.right));
            for (count, ink) in one
                .ears
                .iter()
                .zip(inks)
                .filter(|(count, _)| **count > 0 && ends[0] < ends[1])
            {
                bar(
                    (ends[0], frame.top - *count as f32 * scale),
                    (ends[1], frame.top),
                    ink,
                );
            }
        }
        let scale = room / most(up);
        for one in up {
            let ends = [one.at + half[1], one.at - half[1]];
            let ends = ends.map(|end| frame.y_at(end).clamp(frame.top, frame.bottom));
            for (count, ink) in one
                .ears
                .iter()
                .zip(inks)
                .filter(|(count, _)| **count > 0 && ends[0] < ends[1])
            {
                bar(
                    (frame.right, ends[0]),
                    (frame.right + *count as f32 * scale, ends[1]),
                    ink,
                );
            }
        }
        Group::new(
            "distributions",
            "How many ears have which figures: all ears, and those to plant",
            marks,
        )
    }

    /// A group for each stand, those to plant last and so on top, with a group for each ear.
    fn ears(&self, frame: &Frame) -> Vec<Group> {
        let mut stands = Stand::ALL.map(|stand| Group::new(id_of(stand), stand.name(), Vec::new()));
        let size = if self.is_crowd() { 0.7 } else { 1.0 };
        for (standing, spot) in self.seen().filter(|(_, spot)| frame.holds(*spot)) {
            let mark = form(standing.stand, frame.at(spot), size);
            let id = format!("ear-{}", standing.number);
            stands[stand_index(standing.stand)]
                .groups
                .push(Group::new(id, told(standing), mark));
        }
        stands.reverse();
        let mut rings = Group::new("words", "Words of the grower", Vec::new());
        for (i, kind) in self.words() {
            if frame.holds(self.field.spots[i]) {
                rings.marks.push(ring(kind, frame.at(self.field.spots[i])));
            }
        }
        stands.into_iter().chain([rings]).collect()
    }

    /// The words given about ears that are shown.
    fn words(&self) -> impl Iterator<Item = (usize, WordKind)> {
        let selection = self.project.selection_of(self.choice.season);
        let given = selection.into_iter().flat_map(|selection| &selection.words);
        given.filter_map(|(ear, word)| {
            let place = place_of(self.choice, *ear)?;
            self.order.shown[stand_index(self.choice.standings[place].stand)].then_some((place, word.kind))
        })
    }

    fn cutoffs(&self, frame: &Frame) -> Group {
        let mut marks = Vec::new();
        let mut line = |from, to| {
            marks.push(Mark::Form {
                outline: Outline::Line(vec![from, to]),
                fill: None,
                edge: Some(CUTOFF),
            });
        };
        let [across, up] = self.order.axes.map(|axis| limits(axis, &self.choice.cutoffs));
        let across: Vec<_> = across.into_iter().filter(|(_, at)| frame.x.holds(*at)).collect();
        let up: Vec<_> = up.into_iter().filter(|(_, at)| frame.y.holds(*at)).collect();
        for (_, value) in &across {
            let x = frame.x_at(*value);
            line((x, frame.top - BESIDE), (x, frame.bottom));
        }
        for (_, value) in &up {
            let y = frame.y_at(*value);
            line((frame.left, y), (frame.right + BESIDE, y));
        }
        for (what, value) in across {
            let text = format!("{what} {}", self.order.axes[0].text(self.project, value));
            let wide = self.fonts.width(&text, SMALL, Weight::Bold);
            let x = (frame.x_at(value) - wide / 2.0).clamp(frame.left, (frame.right - wide).max(frame.left));
            marks.push(words(x, frame.top - BESIDE - 3.0, SMALL, Weight::Bold, text));
        }
        for (what, value) in up {
            let (x, y) = (frame.right + BESIDE + 4.0, frame.y_at(value));
            marks.push(words(x, y - 1.5, SMALL, Weight::Bold, what));
            let text = self.order.axes[1].text(self.project, value);
            marks.push(words(x, y + SMALL, SMALL, Weight::Bold, text));
        }
        Group::new("cutoffs", "Cutoffs", marks)
    }

    /// Numbers of the labelled ears where they cover neither each other nor another labelled mark, and intervals.
    fn labels(&self, frame: &Frame) -> Group {
        let mut group = Group::new("labels", "", Vec::new());
        let places: Vec<usize> = self
            .order
            .labelled
            .iter()
            .filter_map(|ear| place_of(self.choice, *ear))
            .filter(|i| self.order.shown[stand_index(self.choice.standings[*i].stand)])
            .filter(|i| frame.holds(self.field.spots[*i]))
            .collect();
        if self.has_intervals() {
            let intervals = places.iter().flat_map(|i| self.interval(frame, *i));
            group.marks.extend(intervals);
        }
        let around = |(x, y): (f32, f32)| [x - 4.0, y - 4.0, x + 4.0, y + 4.0];
        let mut taken: Vec<[f32; 4]> = places
            .iter()
            .map(|i| around(frame.at(self.field.spots[*i])))
            .collect();
        let (count, mut named) = (places.len(), 0);
        for i in places {
            let (x, y) = frame.at(self.field.spots[i]);
            let text = self.choice.standings[i].number.to_string();
            let (wide, high) = (self.fonts.width(&text, LABEL, Weight::Bold), CAPITAL * LABEL);
            let corners = [
                (x + 5.5, y + high / 2.0),
                (x - 5.5 - wide, y + high / 2.0),
                (x - wide / 2.0, y - 5.5),
                (x - wide / 2.0, y + 5.5 + high),
            ];
            let free = corners.into_iter().find_map(|(left, baseline)| {
                let area = [
                    left - 0.5,
                    baseline - high - 0.5,
                    left + wide + 0.5,
                    baseline + 0.5,
                ];
                let is_inside = area[0] > frame.left && area[2] < frame.right && area[1] > frame.top;
                (is_inside && !taken.iter().any(|other| meet(*other, area))).then_some((left, baseline, area))
            });
            if let Some((left, baseline, area)) = free {
                taken.push(area);
                named += 1;
                let white = Outline::rectangle((area[0], area[1]), (area[2], area[3]));
                group.marks.push(Mark::Form {
                    outline: white,
                    fill: Some(Ink::White),
                    edge: None,
                });
                group.marks.push(words(left, baseline, LABEL, Weight::Bold, text));
            }
        }
        if named < count {
            let text = format!("{named} of {count} ears are named; there is no room for the other numbers");
            let wide = self.fonts.width(&text, FOOT, Weight::Regular);
            let at = (self.size.0 - MARGIN - wide, self.size.1 - MARGIN);
            group.marks.push(words(at.0, at.1, FOOT, Weight::Regular, text));
        }
        group
    }

    fn interval(&self, frame: &Frame, i: usize) -> Vec<Mark> {
        let Some(estimate) = &self.choice.standings[i].estimate else {
            return Vec::new();
        };
        let line = |from, to| Mark::Form {
            outline: Outline::Line(vec![from, to]),
            fill: None,
            edge: Some(INTERVAL),
        };
        let (x, y) = frame.at(self.field.spots[i]);
        let mut marks = Vec::new();
        for (side, axis) in self.order.axes.iter().enumerate() {
            let range = match axis.germination() {
                None => continue,
                Some(Vertical::Observed) => estimate.observed_95,
                Some(Vertical::Likely) => estimate.likely_90,
            };
            let ends = [range.low, range.high];
            if side == 0 {
                let ends = ends.map(|end| frame.x_at(end).clamp(frame.left, frame.right));
                marks.push(line((ends[0], y), (ends[1], y)));
                marks.extend(ends.map(|x| line((x, y - 3.0), (x, y + 3.0))));
            } else {
                let ends = ends.map(|end| frame.y_at(end).clamp(frame.top, frame.bottom));
                marks.push(line((x, ends[0]), (x, ends[1])));
                marks.extend(ends.map(|y| line((x - 3.0, y), (x + 3.0, y))));
            }
        }
        marks
    }
}

/// The cutoffs on an axis: which side they keep, and where they lie.
fn limits(axis: Axis, cutoffs: &Cutoffs) -> Vec<(&'static str, f64)> {
    let (least, most) = match axis {
        Axis::MaturityDays => (None, cutoffs.maturity_days),
        Axis::Germination(_) => (cutoffs.germination_percent, None),
        Axis::Vigor => (cutoffs.vigor, None),
        Axis::HeatUnits | Axis::Kernels => (None, None),
        Axis::Trait(id) => {
            let limits = cutoffs.traits.get(&id).copied().unwrap_or_default();
            (limits.least, limits.most)
        }
    };
    let least = least.map(|least| ("at least", least));
    least
        .into_iter()
        .chain(most.map(|most| ("at most", most)))
        .collect()
}

/// The title of a picture of a choice: the project, the season and what is drawn.
pub(super) fn title_of(project: &Project, choice: &Choice, what: &str) -> String {
    let season = project.seasons.get(choice.season);
    let year = season.map_or_else(String::new, |season| format!(", season {}", season.year));
    format!("{}{year}: {what}", project.about.name)
}

/// The sentences below a picture of a choice: the model and the frozen list.
pub(super) fn foot_of(project: &Project, choice: &Choice, model: &str) -> String {
    let list = project.list_in_force(choice.season).map(|list| {
        let same = if list.cutoffs == choice.cutoffs {
            "these cutoffs"
        } else {
            "other cutoffs"
        };
        format!(
            "Planting list {}, version {}, frozen on {} with {same}, digest {}.",
            list.year,
            list.version,
            list.frozen_on,
            list.short_digest()
        )
    });
    let list = list.unwrap_or_else(|| "No planting list is frozen yet.".to_owned());
    format!("{model} A ranking of ears, not a promise. {list}")
}

fn id_of(stand: Stand) -> String {
    stand.name().replace(' ', "-")
}

/// What is known of an ear, for who points at its mark.
fn told(standing: &Standing) -> String {
    let days = standing.maturity_days.map_or_else(
        || "no maturity days".to_owned(),
        |days| format!("{days} maturity days"),
    );
    let figures = match &standing.estimate {
        Some(estimate) => format!(
            "{} of {} germinated, likely {:.0} %",
            estimate.counts.k(),
            estimate.counts.n(),
            estimate.likely_percent
        ),
        None => "not scored".to_owned(),
    };
    format!("Ear {}, {}: {figures}, {days}", standing.number, standing.stand)
}

/// Whether two areas, left, top, right and bottom each, have a part in common.
fn meet(a: [f32; 4], b: [f32; 4]) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}
