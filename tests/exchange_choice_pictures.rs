//! How a choice could be made otherwise, as pictures: read back from the SVG, and by poppler.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod poppler;

use resvg::usvg::roxmltree::{Document as Xml, Node, ParsingOptions};
use std::sync::Arc;
use wintercrib::demo;
use wintercrib::exchange::choice_pictures::{Chosen, curve_file, frontier_file};
use wintercrib::exchange::picture::{PictureForm, PictureOrder};
use wintercrib::exchange::print::{Paper, PrintFault, Watch, unwatched};
use wintercrib::insight::{Choice, Curve, CurveFigure, Estimates, Insight, Shares};
use wintercrib::model::{Command, Document, KernelWay, Stamp};

struct Made {
    document: Document,
    choice: Arc<Choice>,
    estimates: Arc<Estimates>,
    curve: Arc<Curve>,
    shares: Arc<Shares>,
}

/// A demo, with kernels shared out at the coancestry of equal kernels where that is asked.
fn made(name: &str, shared_out: bool) -> Made {
    let mut document = Document::new(demo::make(name).unwrap());
    let season = document.project().latest_season().unwrap().id;
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(&document, season);
    if shared_out {
        let equal = insight.shares(&document, season, &cutoffs).equal.unwrap();
        let way = KernelWay::SharedOut(equal.coancestry);
        let command = Command::SetKernels { season, way };
        let stamp = Stamp {
            at: jiff::civil::date(2026, 1, 15).at(8, 0, 0, 0),
            by: "Grower A".to_owned(),
        };
        document.run(&command, &stamp).unwrap();
    }
    Made {
        choice: insight.choice(&document, season, &cutoffs),
        estimates: insight.estimates(&document, season),
        curve: insight.curve(&document, season, &cutoffs),
        shares: insight.shares(&document, season, &cutoffs),
        document,
    }
}

impl Made {
    fn file(&self, what: &str, order: PictureOrder, watch: Watch<'_>) -> Result<Vec<u8>, PrintFault> {
        let of = Chosen {
            project: self.document.project(),
            choice: &self.choice,
            estimates: &self.estimates,
        };
        match what {
            "curve" => curve_file(of, &self.curve, order, watch),
            _ => frontier_file(of, &self.shares, order, watch),
        }
    }

    fn svg(&self, what: &str) -> String {
        let file = self.file(what, PictureOrder::new(PictureForm::Svg), &unwatched);
        String::from_utf8(file.unwrap()).unwrap()
    }
}

fn parsed(svg: &str) -> Xml<'_> {
    Xml::parse_with_options(svg, ParsingOptions::default()).unwrap()
}

fn group<'a>(xml: &'a Xml<'_>, title: &str) -> Node<'a, 'a> {
    let title_is = |node: &Node| {
        let own = node.children().find(|child| child.has_tag_name("title"));
        own.and_then(|own| own.text())
            .is_some_and(|text| text.starts_with(title))
    };
    xml.descendants()
        .filter(|node| node.has_tag_name("g"))
        .find(title_is)
        .unwrap_or_else(|| panic!("nothing is called {title}"))
}

fn texts(node: Node<'_, '_>) -> Vec<String> {
    let texts = node.descendants().filter(|node| node.has_tag_name("text"));
    texts.filter_map(|node| node.text()).map(str::to_owned).collect()
}

/// The points of the line with the most points.
fn line(node: Node<'_, '_>) -> Vec<[f64; 2]> {
    let points = |node: Node| -> Vec<[f64; 2]> {
        let pairs = node.attribute("points").unwrap_or_default().split(' ');
        pairs
            .filter_map(|pair| pair.split_once(','))
            .map(|(x, y)| [x.parse().unwrap(), y.parse().unwrap()])
            .collect()
    };
    node.descendants().map(points).max_by_key(Vec::len).unwrap()
}

/// Reads a scale from the numbers along it: text by its middle (`side` 0) or by its baseline (1). Gives the value at a
/// place, from the first and the last number.
fn scale(node: Node<'_, '_>, side: usize) -> impl Fn(f64) -> f64 {
    let number = |node: Node, name: &str| node.attribute(name).and_then(|text| text.parse::<f64>().ok());
    let all: Vec<[f64; 3]> = node
        .descendants()
        .filter(|node| node.has_tag_name("text"))
        .filter_map(|text| {
            let value: f64 = text.text()?.parse().ok()?;
            let wide = number(text, "textLength")?;
            let size = number(text, "font-size")?;
            let middle = number(text, "x")? + wide / 2.0;
            Some([middle, number(text, "y")? - 0.36 * size, value])
        })
        .collect();
    // The numbers below stand on one line; those at the side are the others.
    let lowest = all.iter().map(|one| one[1]).fold(f64::MIN, f64::max);
    let along: Vec<&[f64; 3]> = all
        .iter()
        .filter(|one| (one[1] > lowest - 0.5) == (side == 0))
        .collect();
    let (first, last) = (*along.first().unwrap(), *along.last().unwrap());
    let slope = (last[2] - first[2]) / (last[side] - first[side]);
    let (at, value) = (first[side], first[2]);
    move |place| value + (place - at) * slope
}

#[test]
fn each_figure_of_the_curve_is_drawn_at_its_value() {
    let made = made("essel-thaw", false);
    let svg = made.svg("curve");
    let xml = parsed(&svg);
    let here = made.curve.points[made.curve.here.unwrap()];
    for figure in CurveFigure::ALL {
        let plot = group(&xml, figure.name);
        let (across, up) = (scale(plot, 0), scale(plot, 1));
        let wanted = made.curve.line(figure);
        assert!(wanted.len() > 10, "{}", figure.name);
        let drawn = line(plot);
        assert_eq!(drawn.len(), wanted.len(), "{}", figure.name);
        let span = |values: &[[f64; 2]]| {
            let ends = values.iter().fold([f64::MAX, f64::MIN], |[low, high], at| {
                [low.min(at[1]), high.max(at[1])]
            });
            ends[1] - ends[0]
        };
        // Places have two digits after the point.
        let near = 0.01 * span(&wanted).max(1.0);
        for ([x, y], [cutoff, value]) in drawn.into_iter().zip(&wanted) {
            assert!(
                (across(x) - cutoff).abs() < 1.0,
                "{}: {} {cutoff}",
                figure.name,
                across(x)
            );
            assert!((up(y) - value).abs() < near, "{}: {} {value}", figure.name, up(y));
        }
        let value = figure.at(&here).unwrap();
        let now = if figure.is_whole {
            format!("{value:.0} now")
        } else {
            format!("{value:.1} now")
        };
        let said = texts(plot);
        assert!(said.contains(&now), "{now}: {said:?}");
    }
    let about = xml
        .descendants()
        .find(|node| node.has_tag_name("desc"))
        .and_then(|node| node.text())
        .unwrap();
    for sentence in made.curve.sentences() {
        assert!(about.contains(&sentence), "{sentence}: {about}");
    }
}

#[test]
fn the_frontier_is_drawn_with_both_ways_to_share() {
    for (name, shared_out) in [
        ("essel-thaw", true),
        ("essel-thaw", false),
        ("pocket-starter", true),
    ] {
        let made = made(name, shared_out);
        let svg = made.svg("frontier");
        let xml = parsed(&svg);
        let root = xml.root_element();
        let wanted = made.shares.frontier.len();
        assert_eq!(line(group(&xml, "The best that shares can do")).len(), wanted);
        let said = texts(root).join(" ");
        for words in [
            "Effective size",
            "Likely cold germination, %",
            "equal kernels of every ear",
        ] {
            assert!(said.contains(words), "{words}: {said}");
        }
        assert_eq!(said.contains("shared out, as it is set"), shared_out, "{said}");
        group(&xml, "Equal kernels of every ear");
        let about = root.children().find(|node| node.has_tag_name("desc")).unwrap();
        for sentence in made.shares.sentences() {
            assert!(about.text().unwrap().contains(&sentence), "{sentence}");
        }
    }
}

#[test]
fn pages_hold_the_words_and_the_same_input_gives_the_same_bytes() {
    let made = made("essel-thaw", true);
    for what in ["curve", "frontier"] {
        for (form, _) in PictureForm::ALL {
            let order = PictureOrder {
                paper: Paper::A4,
                ..PictureOrder::new(form)
            };
            let file = made.file(what, order, &unwatched).unwrap();
            assert!(file == made.file(what, order, &unwatched).unwrap(), "{what}");
            assert_eq!(made.file(what, order, &|_| false), Err(PrintFault::Stopped));
            if form == PictureForm::Pdf {
                poppler::look(what, &file, 1);
                let Some(pages) = poppler::text_of(&file) else {
                    continue;
                };
                assert_eq!(pages.len(), 1);
                for words in [
                    "DEMO Essel Thaw, season 2025",
                    "Home test, not for labelling seed",
                    "No planting list",
                ] {
                    assert!(pages[0].contains(words), "{words}: {}", pages[0]);
                }
            }
        }
        let small = PictureOrder {
            dots: [400, 399],
            ..PictureOrder::new(PictureForm::Png)
        };
        assert!(matches!(
            made.file(what, small, &unwatched),
            Err(PrintFault::Picture(_))
        ));
    }
}
