//! The pedigree over all seasons as a picture: a column for each season, boxes of families, lines from mother to daughter.

use super::picture::axes::words;
use super::picture::caption::{self, MARGIN};
use super::picture::{Group, Picture, PictureOrder, picture_file};
use super::print::{Edge, Fonts, Ink, Mark, Outline, PrintFault, Watch, Weight};
use crate::insight::{Lineage, Pedigree};
use crate::model::{EarId, Project};

/// What the picture shows.
const WHAT: &str = "the pedigree over all seasons";
/// The part of a column that its boxes take.
const BOX: f32 = 0.72;
/// The part of the height of a line that its box takes.
const HIGH: f32 = 0.8;
/// The greatest width of a column and height of a line, in points.
const MOST: [f32; 2] = [170.0, 24.0];
/// Text smaller than this is left out: nobody can read it.
const LEAST_TEXT: f32 = 3.0;
/// The greatest text in a box.
const MOST_TEXT: f32 = 9.0;
/// Size of the years.
const YEAR: f32 = 9.5;
/// Height of the years.
const HEAD: f32 = 18.0;
/// A line that nothing is told by.
const PLAIN: Edge = Edge::new(Ink::Colour([0x70, 0x70, 0x70]), 0.5);
/// The edge of a box that nothing is told by.
const FRAME: Edge = Edge::new(Ink::Colour([0x70, 0x70, 0x70]), 0.4);
/// The line of what is picked.
const PICKED: Edge = Edge::new(Ink::Colour([0x00, 0x5c, 0x69]), 1.5);

/// A family that stands out, and perhaps one of its ears, with its mothers and what came of it.
pub type PickedFamily = Option<(usize, Option<EarId>)>;

/// Draws the pedigree as a file. The same input gives the same bytes.
///
/// # Errors
/// As [`picture_file`].
pub fn pedigree_file(
    project: &Project,
    pedigree: &Pedigree,
    picked: PickedFamily,
    order: PictureOrder,
    watch: Watch<'_>,
) -> Result<Vec<u8>, PrintFault> {
    let drawn = |fonts: &Fonts, size| pedigree_picture(fonts, project, pedigree, picked, size);
    picture_file(order, &project.about.name, WHAT, drawn, watch)
}

/// Draws the pedigree in a picture of so many points, with title, sentences and foot.
pub fn pedigree_picture(
    fonts: &Fonts,
    project: &Project,
    pedigree: &Pedigree,
    picked: PickedFamily,
    [width, height]: [f32; 2],
) -> Picture {
    let title = format!("{}: {WHAT}", project.about.name);
    let lineage = picked.map_or_else(Lineage::default, |(family, ear)| pedigree.lineage(family, ear));
    let about = about(pedigree, picked, &lineage);
    let (head, top) = caption::head(fonts, &title, &about, width);
    let foot = "A number behind a row counts the ears that were harvested from it. Only mothers are drawn.";
    let (foot, bottom) = caption::foot(fonts, foot, (width, height));
    let drawing = Drawing {
        fonts,
        pedigree,
        picked: picked.map(|(family, _)| family),
        lineage: &lineage,
        top: top + 10.0 + HEAD,
        step: [
            ((width - 2.0 * MARGIN) / pedigree.seasons.len().max(1) as f32).min(MOST[0]),
            ((bottom - top - 10.0 - HEAD) / (pedigree.height as f32).max(1.0)).min(MOST[1]),
        ],
    };
    let mut groups = vec![Group::new("head", "", head), foot, drawing.lines()];
    groups.extend((0..pedigree.seasons.len()).map(|season| drawing.season(season)));
    Picture {
        title,
        about,
        size: (width, height),
        groups,
    }
}

/// Says what is seen: the picked family, or how many families there are.
fn about(pedigree: &Pedigree, picked: PickedFamily, lineage: &Lineage) -> String {
    if let Some((family, _)) = picked {
        return format!(
            "{} {} ◆ this family, ▲ its mothers, ▼ what came of it.",
            pedigree.path(family),
            pedigree.offspring(lineage)
        );
    }
    let seasons: Vec<String> = pedigree
        .seasons
        .iter()
        .map(|season| format!("{}: {}", season.year, season.families.len()))
        .collect();
    format!(
        "Families by season: {}. Each line goes from a family to one that was planted from its ear.",
        seasons.join(", ")
    )
}

struct Drawing<'a> {
    fonts: &'a Fonts,
    pedigree: &'a Pedigree,
    picked: Option<usize>,
    lineage: &'a Lineage,
    /// Where the first line begins.
    top: f32,
    /// Width of a column and height of a line.
    step: [f32; 2],
}

impl Drawing<'_> {
    /// Left, top, right and bottom of a family's box.
    fn place(&self, family: usize) -> [f32; 4] {
        let one = &self.pedigree.families[family];
        let left = MARGIN + self.step[0] * one.season as f32;
        let top = self.top + self.step[1] * one.place as f32;
        [left, top, left + BOX * self.step[0], top + HIGH * self.step[1]]
    }

    /// What a family is to the picked one, as a sign; none for one that is apart.
    fn sign(&self, family: usize) -> Option<&'static str> {
        match () {
            () if self.picked == Some(family) => Some("◆ "),
            () if self.lineage.ancestors.contains(&family) => Some("▲ "),
            () if self.lineage.descendants.contains(&family) => Some("▼ "),
            () => None,
        }
    }

    /// The lines from mothers to daughters, those of the picked family over the others.
    fn lines(&self) -> Group {
        let (mut plain, mut over) = (Vec::new(), Vec::new());
        for (family, one) in self.pedigree.families.iter().enumerate() {
            let Some(mother) = one.mother else { continue };
            let [from, to] = [self.place(mother), self.place(family)];
            let middle = |place: [f32; 4]| 0.5 * (place[1] + place[3]);
            let straight = 0.06 * self.step[0];
            let points = vec![
                (from[2], middle(from)),
                (from[2] + straight, middle(from)),
                (to[0] - straight, middle(to)),
                (to[0], middle(to)),
            ];
            let is_picked = self.is_of_line(family, mother);
            let edge = if is_picked { PICKED } else { PLAIN };
            let mark = Mark::Form {
                outline: Outline::Line(points),
                fill: None,
                edge: Some(edge),
            };
            if is_picked {
                over.push(mark);
            } else {
                plain.push(mark);
            }
        }
        plain.extend(over);
        Group::new("mothers", "Lines from mothers to daughters", plain)
    }

    /// Whether the line from a mother leads to the picked family or goes on from it.
    fn is_of_line(&self, family: usize, mother: usize) -> bool {
        let is_before = self.picked == Some(family) || self.lineage.ancestors.contains(&family);
        let is_after = self.lineage.descendants.contains(&family);
        let from_it = self.picked == Some(mother) || self.lineage.descendants.contains(&mother);
        is_before || (is_after && from_it)
    }

    fn season(&self, at: usize) -> Group {
        let season = &self.pedigree.seasons[at];
        let year = season.year.to_string();
        let wide = self.fonts.width(&year, YEAR, Weight::Bold) + 6.0;
        let every = (wide / self.step[0]).ceil().max(1.0) as usize;
        let left = MARGIN + self.step[0] * at as f32;
        let mut group = Group::new(format!("season-{year}"), season.pollen_sentence(), Vec::new());
        if (self.pedigree.seasons.len() - 1 - at).is_multiple_of(every) {
            let mark = words(left, self.top - 7.0, YEAR, Weight::Bold, year);
            group.marks.push(mark);
        }
        group.groups = season
            .families
            .iter()
            .map(|family| self.family(*family))
            .collect();
        group
    }

    fn family(&self, family: usize) -> Group {
        let one = &self.pedigree.families[family];
        let [left, top, right, bottom] = self.place(family);
        let sign = self.sign(family);
        let mut marks = vec![Mark::Form {
            outline: Outline::rectangle((left, top), (right, bottom)),
            fill: Some(Ink::White),
            edge: Some(if sign.is_some() { PICKED } else { FRAME }),
        }];
        let size = (0.72 * (bottom - top)).min(MOST_TEXT);
        if size >= LEAST_TEXT {
            let weight = if sign.is_some() {
                Weight::Bold
            } else {
                Weight::Regular
            };
            let text = format!("{}{}", sign.unwrap_or_default(), one.short());
            let text = self.fonts.shorten(&text, size, weight, right - left - 4.0);
            let baseline = 0.5 * (top + bottom) + 0.35 * size;
            marks.push(words(left + 2.0, baseline, size, weight, text));
        }
        let title = format!("{} {}.", self.pedigree.path(family), self.pedigree.facts(family));
        Group::new(format!("family-{family}"), title, marks)
    }
}
