//! The plot of Selection as a picture: SVG read by an XML parser, PNG dot by dot, PDF by poppler.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod poppler;

use image::RgbImage;
use jiff::civil::date;
use resvg::usvg::roxmltree::{Document as Xml, Node, ParsingOptions};
use wintercrib::demo;
use wintercrib::exchange::picture::PictureForm;
use wintercrib::exchange::plot_picture::{PlotOrder, plot_file, plot_picture};
use wintercrib::exchange::print::{CAUTION, Fonts, Paper, PrintFault, unwatched};
use wintercrib::insight::{Axis, Choice, Estimates, Insight, Vertical};
use wintercrib::model::{About, Command, Document, EarId, Project, Stamp, Stand};

/// What a picture is made of.
struct Season {
    project: Project,
    choice: std::sync::Arc<Choice>,
    estimates: std::sync::Arc<Estimates>,
}

fn season(project: Project) -> Season {
    let document = Document::new(project);
    let insight = Insight::default();
    let season = document.project().latest_season().unwrap().id;
    let cutoffs = insight.cutoffs(&document, season);
    Season {
        choice: insight.choice(&document, season, &cutoffs),
        estimates: insight.estimates(&document, season),
        project: document.project().clone(),
    }
}

fn demo_season() -> Season {
    season(demo::make("essel-thaw").unwrap())
}

impl Season {
    fn file(&self, order: &PlotOrder, form: PictureForm) -> Vec<u8> {
        plot_file(
            &self.project,
            &self.choice,
            &self.estimates,
            order,
            form,
            &unwatched,
        )
        .unwrap()
    }

    fn svg(&self, order: &PlotOrder) -> String {
        String::from_utf8(self.file(order, PictureForm::Svg)).unwrap()
    }

    fn png(&self, order: &PlotOrder) -> RgbImage {
        let bytes = self.file(order, PictureForm::Png);
        image::load_from_memory(&bytes).unwrap().to_rgb8()
    }

    fn ears(&self, stand: Stand) -> Vec<(EarId, u32)> {
        let of_stand = self.choice.standings.iter().filter(|one| one.stand == stand);
        of_stand.map(|one| (one.ear, one.number)).collect()
    }
}

fn parsed(svg: &str) -> Xml<'_> {
    Xml::parse_with_options(svg, ParsingOptions::default()).unwrap()
}

fn by_id<'a>(xml: &'a Xml<'_>, id: &str) -> Node<'a, 'a> {
    let mut found = xml.descendants().filter(|node| node.attribute("id") == Some(id));
    let first = found.next().unwrap_or_else(|| panic!("nothing has the id {id}"));
    assert!(found.next().is_none(), "{id} is there twice");
    first
}

fn numbers(node: Node<'_, '_>, names: [&str; 2]) -> [f32; 2] {
    names.map(|name| node.attribute(name).unwrap().parse().unwrap())
}

#[test]
fn every_ear_has_one_mark_in_the_form_of_its_stand() {
    let season = demo_season();
    let svg = season.svg(&PlotOrder::default());
    let xml = parsed(&svg);
    for (stand, group, form) in [
        (Stand::Plant, "plant", "circle"),
        (Stand::Retest, "retest", "polygon"),
        (Stand::LeaveOut, "leave-out", "polyline"),
        (Stand::NotScored, "not-scored", "polygon"),
    ] {
        let ears = season.ears(stand);
        assert!(!ears.is_empty(), "{stand}");
        let marks: Vec<Node> = by_id(&xml, group)
            .children()
            .filter(|node| node.has_tag_name("g"))
            .collect();
        let ids: Vec<&str> = marks.iter().map(|node| node.attribute("id").unwrap()).collect();
        let expected: Vec<String> = ears.iter().map(|(_, number)| format!("ear-{number}")).collect();
        assert_eq!(ids, expected);
        for (mark, (_, number)) in marks.iter().zip(&ears) {
            let title = mark.children().find(|node| node.has_tag_name("title")).unwrap();
            let told = title.text().unwrap();
            assert!(told.starts_with(&format!("Ear {number}, {stand}: ")), "{told}");
            assert!(mark.children().any(|node| node.has_tag_name(form)), "{told}");
        }
    }
    // The words that the demo holds, and what every picture of results must say.
    let said: Vec<&str> = xml
        .descendants()
        .filter(|node| node.has_tag_name("text"))
        .filter_map(|node| node.text())
        .collect();
    for words in [
        "always plant",
        "never plant",
        "10 kernels cannot tell",
        "at most 106 days",
        "No planting list",
    ] {
        assert!(said.iter().any(|text| text.contains(words)), "{words}: {said:?}");
    }
    assert!(said.iter().any(|text| text.eq_ignore_ascii_case(CAUTION)));
}

#[test]
fn text_of_any_kind_is_escaped_and_survives() {
    let name = "A<b> & \"c\" 'd' \u{5de}\u{5d9} \u{4f60}\u{597d} \u{1F33D}";
    let mut document = Document::new(demo::make("pocket-starter").unwrap());
    let about = About {
        name: name.to_owned(),
        ..document.project().about.clone()
    };
    let stamp = Stamp {
        at: date(2026, 1, 15).at(8, 0, 0, 0),
        by: "Grower A".to_owned(),
    };
    document.run(&Command::Describe(about), &stamp).unwrap();
    let season = season(document.project().clone());
    let svg = season.svg(&PlotOrder::default());
    let xml = parsed(&svg);
    let title = by_id(&xml, "title").text().unwrap();
    assert!(title.starts_with(name), "{title}");
    let drawn = xml
        .descendants()
        .any(|node| node.has_tag_name("text") && node.text().is_some_and(|text| text.starts_with(name)));
    assert!(drawn, "the title is drawn whole");
    // The other forms take it too, though their fonts lack some of the letters.
    assert!(
        season
            .file(&PlotOrder::default(), PictureForm::Png)
            .starts_with(b"\x89PNG")
    );
    assert!(
        season
            .file(&PlotOrder::default(), PictureForm::Pdf)
            .starts_with(b"%PDF")
    );
    // The check of the check: without escaping, the parser refuses.
    assert!(Xml::parse(&svg.replace("&lt;", "<")).is_err());
}

#[test]
fn dots_lie_where_the_drawing_says_in_a_picture_of_the_size_asked() {
    let season = demo_season();
    let order = PlotOrder {
        dots: [1200, 900],
        ..PlotOrder::default()
    };
    let png = season.png(&order);
    assert_eq!(png.dimensions(), (1200, 900));
    let svg = season.svg(&order);
    let xml = parsed(&svg);
    let blue = |x: f32, y: f32| {
        let [red, green, blue] = png.get_pixel((x * 2.0) as u32, (y * 2.0) as u32).0;
        blue > 140 && red < 60 && green < 140
    };
    let circles: Vec<[f32; 2]> = season
        .ears(Stand::Plant)
        .iter()
        .map(|(_, number)| {
            let mark = by_id(&xml, &format!("ear-{number}"));
            let circle = mark.children().find(|node| node.has_tag_name("circle"));
            numbers(circle.unwrap(), ["cx", "cy"])
        })
        .collect();
    // A mark, its rim or the ring of a word can cover the middle of a near neighbour.
    let is_alone = |at: &[f32; 2]| {
        let near = |other: &&[f32; 2]| (other[0] - at[0]).hypot(other[1] - at[1]) < 7.0;
        circles.iter().filter(near).count() == 1
    };
    let alone: Vec<&[f32; 2]> = circles.iter().filter(|at| is_alone(at)).collect();
    assert!(alone.len() > 10, "{}", alone.len());
    for [x, y] in alone {
        assert!(blue(*x, *y), "no mark at {x} {y}");
        assert!(!blue(*x, 340.0), "a mark at {x} where none is to be");
    }
    // The corners are paper.
    for (x, y) in [(0, 0), (1199, 0), (0, 899), (1199, 899)] {
        assert_eq!(png.get_pixel(x, y).0, [255; 3]);
    }
}

#[test]
fn what_is_not_shown_is_left_out_and_told() {
    let season = demo_season();
    let whole = PlotOrder::default();
    let part = PlotOrder {
        view: Some([98.0, 103.0, 60.0, 100.0]),
        shown: [true, true, false, false],
        ..whole.clone()
    };
    let svg = season.svg(&part);
    let xml = parsed(&svg);
    let about = by_id(&xml, "about").text().unwrap();
    assert!(
        about.contains("ears lie outside of what is shown")
            && about.contains("Not shown: leave out, not scored."),
        "{about}"
    );
    let drawn = |xml: &Xml| {
        let ears = xml
            .descendants()
            .filter(|node| node.attribute("id").is_some_and(|id| id.starts_with("ear-")));
        ears.count()
    };
    let all = season.svg(&whole);
    let shown = drawn(&parsed(&svg));
    let outside: usize = about
        .split(". ")
        .find_map(|part| part.strip_suffix(" ears lie outside of what is shown"))
        .unwrap()
        .parse()
        .unwrap();
    assert_eq!(drawn(&parsed(&all)), season.choice.standings.len());
    assert_eq!(
        shown + outside,
        season.ears(Stand::Plant).len() + season.ears(Stand::Retest).len()
    );
    for circle in by_id(&xml, "plant")
        .descendants()
        .filter(|node| node.has_tag_name("circle"))
    {
        let [x, y] = numbers(circle, ["cx", "cy"]);
        assert!((0.0..=800.0).contains(&x) && (0.0..=500.0).contains(&y));
    }
}

#[test]
fn chosen_ears_are_named_with_intervals_and_the_axis_can_be_the_likely_percent() {
    let season = demo_season();
    let kept = season.ears(Stand::Plant);
    let chosen: Vec<EarId> = kept.iter().take(5).map(|(ear, _)| *ear).collect();
    let order = PlotOrder {
        axes: [Axis::MaturityDays, Axis::Germination(Vertical::Likely)],
        labelled: chosen,
        intervals: true,
        ..PlotOrder::default()
    };
    let svg = season.svg(&order);
    let xml = parsed(&svg);
    let labels = by_id(&xml, "labels");
    let named: Vec<&str> = labels
        .children()
        .filter(|node| node.has_tag_name("text"))
        .filter_map(|node| node.text())
        .collect();
    let expected: Vec<String> = kept
        .iter()
        .take(5)
        .map(|(_, number)| number.to_string())
        .collect();
    assert_eq!(named, expected);
    assert_eq!(
        labels
            .children()
            .filter(|node| node.has_tag_name("polyline"))
            .count(),
        15
    );
    assert!(svg.contains("90 % range of what is likely") && svg.contains("Cold germination, likely, %"));
    // Of more ears than have room, it is said how many are named, and no thicket of intervals is drawn.
    let all = PlotOrder {
        labelled: season.choice.standings.iter().map(|one| one.ear).collect(),
        ..order
    };
    let svg = season.svg(&all);
    assert!(svg.contains("ears are named; there is no room for the other numbers"));
    assert!(
        by_id(&parsed(&svg), "labels")
            .children()
            .all(|node| !node.has_tag_name("polyline"))
    );
}

#[test]
fn a_page_holds_the_words_and_the_same_input_gives_the_same_bytes() {
    let season = demo_season();
    for (form, name) in PictureForm::ALL {
        let order = PlotOrder {
            paper: Paper::A4,
            ..PlotOrder::default()
        };
        let file = season.file(&order, form);
        assert!(file == season.file(&order, form), "{name}");
    }
    let pdf = season.file(&PlotOrder::default(), PictureForm::Pdf);
    poppler::look("plot_picture", &pdf, 1);
    let Some(pages) = poppler::text_of(&pdf) else {
        return;
    };
    assert_eq!(pages.len(), 1);
    for words in [
        "DEMO Essel Thaw, season 2025",
        "Maturity days",
        "at most 106 days",
        "Home test, not for labelling seed",
        "leave out (79)",
        "none",
    ] {
        assert!(pages[0].contains(words), "{words}: {}", pages[0]);
    }
}

#[test]
fn whoever_watches_can_stop_and_a_wrong_size_is_refused() {
    let season = demo_season();
    let make = |order: &PlotOrder, form, watch: &dyn Fn(f32) -> bool| {
        plot_file(
            &season.project,
            &season.choice,
            &season.estimates,
            order,
            form,
            watch,
        )
    };
    for (form, _) in PictureForm::ALL {
        assert_eq!(
            make(&PlotOrder::default(), form, &|_| false),
            Err(PrintFault::Stopped)
        );
    }
    for dots in [[0, 1000], [1600, 399], [1600, 100_000]] {
        let order = PlotOrder {
            dots,
            ..PlotOrder::default()
        };
        let refused = make(&order, PictureForm::Png, &unwatched)
            .unwrap_err()
            .to_string();
        assert!(refused.contains("choose 400 to 6000"), "{refused}");
    }
}

#[test]
fn ten_thousand_ears_have_a_mark_each() {
    let season = season(demo::sized(10_000, 1, 1).unwrap());
    let fonts = Fonts::new().unwrap();
    let order = PlotOrder::default();
    let picture = plot_picture(
        &fonts,
        &season.project,
        &season.choice,
        &season.estimates,
        &order,
        [800.0, 500.0],
    );
    let ears: usize = picture.groups.iter().map(|group| group.groups.len()).sum();
    assert_eq!(ears, 10_000);
    let svg = season.file(&order, PictureForm::Svg);
    assert!(svg.len() < 3_000_000, "{} bytes", svg.len());
}
