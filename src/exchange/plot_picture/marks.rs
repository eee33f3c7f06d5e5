//! The marks of the plot of Selection: the form of each stand, the rings of words, and what stands for them in the legend.

use super::super::print::{Edge, Ink, Mark, Outline};
use crate::insight::stand_index;
use crate::model::{Stand, WordKind};

/// Colours of the stands in the order of [`Stand::ALL`]; their forms tell them apart too. After Okabe and Ito's
/// colours for all kinds of colour vision, darkened for paper.
pub(super) const STANDS: [Ink; 4] = [
    Ink::Colour([0x00, 0x68, 0xa8]),
    Ink::Colour([0xa6, 0x6a, 0x00]),
    Ink::Colour([0xa4, 0x4f, 0x7c]),
    Ink::Colour([0x6e, 0x68, 0x5d]),
];
/// Bars of all ears.
pub(super) const BARS: Ink = Ink::Colour([0xcd, 0xc6, 0xb8]);
/// The band in which kernels cannot tell, and its ends.
pub(super) const BAND: Ink = Ink::Colour([0xf8, 0xee, 0xda]);
pub(super) const BAND_END: Edge = Edge::dashed(Ink::Colour([0xa6, 0x6a, 0x00]), 0.6, 2.0);
/// Intervals of labelled ears.
pub(super) const INTERVAL: Edge = Edge::new(Ink::Colour([0x3e, 0x38, 0x2e]), 0.8);

/// What stands for something in the legend.
#[derive(Debug, Clone, Copy)]
pub(super) enum Sample {
    Stand(Stand),
    Word(WordKind),
    Band,
    Bar(Ink),
    Interval,
}

impl Sample {
    pub(super) fn draw(self, marks: &mut Vec<Mark>, at: (f32, f32)) {
        let swatch =
            |wide: f32, high: f32| Outline::rectangle((at.0 - wide, at.1 - high), (at.0 + wide, at.1 + high));
        let filled = |outline, ink, edge| Mark::Form {
            outline,
            fill: Some(ink),
            edge,
        };
        match self {
            Self::Stand(stand) => marks.extend(form(stand, at, 1.0)),
            Self::Word(kind) => marks.push(ring(kind, at)),
            Self::Band => marks.push(filled(swatch(8.0, 5.0), BAND, Some(BAND_END))),
            Self::Bar(ink) => marks.push(filled(swatch(6.0, 4.0), ink, None)),
            Self::Interval => marks.push(Mark::Form {
                outline: Outline::Line(vec![(at.0, at.1 - 5.0), (at.0, at.1 + 5.0)]),
                fill: None,
                edge: Some(INTERVAL),
            }),
        }
    }
}

/// The form of a stand: disc, diamond, cross or empty box. Its white rim keeps neighbours apart.
pub(super) fn form(stand: Stand, (x, y): (f32, f32), size: f32) -> Vec<Mark> {
    let ink = STANDS[stand_index(stand)];
    let rim = Some(Edge::new(Ink::White, 0.5));
    let fill = Some(ink);
    match stand {
        Stand::Plant => {
            let (middle, radius) = ((x, y), 3.2 * size);
            let outline = Outline::Circle { middle, radius };
            vec![Mark::Form {
                outline,
                fill,
                edge: rim,
            }]
        }
        Stand::Retest => {
            let r = 3.9 * size;
            let outline = Outline::Polygon(vec![(x, y - r), (x + r, y), (x, y + r), (x - r, y)]);
            vec![Mark::Form {
                outline,
                fill,
                edge: rim,
            }]
        }
        Stand::LeaveOut => {
            let r = 2.8 * size;
            let line = |by: f32| Mark::Form {
                outline: Outline::Line(vec![(x - r, y - by), (x + r, y + by)]),
                fill: None,
                edge: Some(Edge::new(ink, 1.1)),
            };
            vec![line(r), line(-r)]
        }
        Stand::NotScored => {
            let r = 2.6 * size;
            let outline = Outline::rectangle((x - r, y - r), (x + r, y + r));
            let edge = Some(Edge::new(ink, 0.9));
            vec![Mark::Form {
                outline,
                fill: Some(Ink::White),
                edge,
            }]
        }
    }
}

/// The ring of a word around a mark: round for always plant, a box for never plant, a triangle for reserve.
pub(super) fn ring(kind: WordKind, (x, y): (f32, f32)) -> Mark {
    let outline = match kind {
        WordKind::Always => Outline::Circle {
            middle: (x, y),
            radius: 5.4,
        },
        WordKind::Never => Outline::rectangle((x - 5.0, y - 5.0), (x + 5.0, y + 5.0)),
        WordKind::Reserve => Outline::Polygon(vec![(x, y - 7.6), (x + 6.8, y + 4.6), (x - 6.8, y + 4.6)]),
    };
    Mark::Form {
        outline,
        fill: None,
        edge: Some(Edge::new(Ink::Black, 1.0)),
    }
}
