//! A picture as SVG 1.1 text.
//!
//! Text stays text: it can be searched, read aloud and set in letters that the fonts of prints lack. Where another
//! font stands in, `textLength` keeps each line as wide as it was measured.

use super::super::print::{BoxAt, Edge, Fonts, Ink, Mark, Outline, Weight};
use super::{Group, Picture};

/// Bytes that a mark takes about, to make room once.
const BYTES_OF_A_MARK: usize = 160;

/// Writes a picture as an SVG file.
pub fn write_svg(fonts: &Fonts, picture: &Picture) -> Vec<u8> {
    let (width, height) = (number(picture.size.0), number(picture.size.1));
    let mut svg = Writer {
        fonts,
        text: String::with_capacity(1024 + picture.marks().len() * BYTES_OF_A_MARK),
    };
    svg.line(&format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" \
         width=\"{width}pt\" height=\"{height}pt\" viewBox=\"0 0 {width} {height}\" role=\"img\" \
         aria-labelledby=\"title about\" font-family=\"'Noto Sans', 'DejaVu Sans', sans-serif\">"
    ));
    svg.line(&format!(
        "<title id=\"title\">{}</title>",
        escaped(&picture.title)
    ));
    svg.line(&format!("<desc id=\"about\">{}</desc>", escaped(&picture.about)));
    svg.line(&format!(
        "<rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>"
    ));
    for group in &picture.groups {
        svg.group(group);
    }
    svg.line("</svg>");
    svg.text.into_bytes()
}

struct Writer<'a> {
    fonts: &'a Fonts,
    text: String,
}

impl Writer<'_> {
    fn line(&mut self, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
    }

    fn group(&mut self, group: &Group) {
        let id = match group.id.as_str() {
            "" => String::new(),
            id => format!(" id=\"{}\"", escaped(id)),
        };
        self.line(&format!("<g{id}>"));
        if !group.title.is_empty() {
            self.line(&format!("<title>{}</title>", escaped(&group.title)));
        }
        for mark in &group.marks {
            self.mark(mark);
        }
        for group in &group.groups {
            self.group(group);
        }
        self.line("</g>");
    }

    fn mark(&mut self, mark: &Mark) {
        match mark {
            Mark::Text {
                x,
                baseline,
                size,
                weight,
                text,
            } => self.words((*x, *baseline), *size, *weight, text, ""),
            Mark::Rising {
                baseline,
                y,
                size,
                weight,
                text,
            } => {
                let turn = format!(" transform=\"rotate(-90 {} {})\"", number(*baseline), number(*y));
                self.words((*baseline, *y), *size, *weight, text, &turn);
            }
            Mark::Rule { from, to, thickness } => {
                let edge = Edge::new(Ink::Black, *thickness);
                self.points("polyline", &[*from, *to], None, Some(edge));
            }
            Mark::Frame { at, size, thickness } => {
                let form = Outline::rectangle(*at, (at.0 + size.0, at.1 + size.1));
                self.form(&form, None, Some(Edge::new(Ink::Black, *thickness)));
            }
            Mark::Filled { corners, ink } => self.points("polygon", corners, Some(*ink), None),
            Mark::Form { outline, fill, edge } => self.form(outline, *fill, *edge),
        }
    }

    fn form(&mut self, outline: &Outline, fill: Option<Ink>, edge: Option<Edge>) {
        match outline {
            Outline::Circle { middle, radius } => self.line(&format!(
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{}/>",
                number(middle.0),
                number(middle.1),
                number(*radius),
                paint(fill, edge)
            )),
            Outline::Line(points) => self.points("polyline", points, None, edge),
            Outline::Polygon(points) => self.points("polygon", points, fill, edge),
            Outline::Squares(squares) => {
                let one = |(at, size): BoxAt| {
                    let [x, y, width, height] = [at.0, at.1, size.0, size.1].map(number);
                    format!("M{x} {y}h{width}v{height}H{x}z")
                };
                let path: String = squares.boxes().map(one).collect();
                self.line(&format!("<path d=\"{path}\"{}/>", paint(fill, edge)));
            }
        }
    }

    fn points(&mut self, form: &str, points: &[(f32, f32)], fill: Option<Ink>, edge: Option<Edge>) {
        let points: Vec<String> = points
            .iter()
            .map(|(x, y)| format!("{},{}", number(*x), number(*y)))
            .collect();
        self.line(&format!(
            "<{form} points=\"{}\"{}/>",
            points.join(" "),
            paint(fill, edge)
        ));
    }

    fn words(&mut self, at: (f32, f32), size: f32, weight: Weight, text: &str, turn: &str) {
        if text.trim().is_empty() {
            return;
        }
        let mut attributes = format!(
            "x=\"{}\" y=\"{}\" font-size=\"{}\"",
            number(at.0),
            number(at.1),
            number(size)
        );
        if weight == Weight::Bold {
            attributes.push_str(" font-weight=\"bold\"");
        }
        // Letters that the fonts of prints lack have another width than was measured.
        if self.fonts.can_set(text) {
            let width = number(self.fonts.width(text, size, weight));
            let length = format!(" textLength=\"{width}\" lengthAdjust=\"spacingAndGlyphs\"");
            attributes.push_str(&length);
        }
        self.line(&format!("<text {attributes}{turn}>{}</text>", escaped(text)));
    }
}

fn paint(fill: Option<Ink>, edge: Option<Edge>) -> String {
    let fill = fill.map_or_else(|| "none".to_owned(), colour);
    let mut paint = format!(" fill=\"{fill}\"");
    if let Some(edge) = edge {
        let (stroke, width) = (colour(edge.ink), number(edge.thickness));
        paint.extend([
            " stroke=\"",
            &stroke,
            "\" stroke-width=\"",
            &width.to_string(),
            "\"",
        ]);
        if let Some(dash) = edge.dash {
            paint.extend([" stroke-dasharray=\"", &number(dash).to_string(), "\""]);
        }
    }
    paint
}

fn colour(ink: Ink) -> String {
    match ink {
        Ink::Black => "#000".to_owned(),
        Ink::White => "#fff".to_owned(),
        Ink::Colour([red, green, blue]) => format!("#{red:02x}{green:02x}{blue:02x}"),
    }
}

/// To hundredths of a point: more digits only make the file larger.
fn number(length: f32) -> f32 {
    // Adding nothing turns the negative zero into a plain one.
    (length * 100.0).round() / 100.0 + 0.0
}

/// A text without what has a meaning in XML, and without control characters, which XML cannot hold.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            letter if letter.is_control() || ('\u{FFFE}'..='\u{FFFF}').contains(&letter) => safe.push(' '),
            letter => safe.push(letter),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_text_is_safe() {
        assert_eq!(
            [1.0, 0.126, -0.001, 12.5].map(|length| number(length).to_string()),
            ["1", "0.13", "0", "12.5"]
        );
        assert_eq!(
            escaped("a<b> & \"c\" 'd'\u{1}\n\u{FFFF}\u{1F33D}"),
            "a&lt;b&gt; &amp; &quot;c&quot; &#39;d&#39;   \u{1F33D}"
        );
    }
}
