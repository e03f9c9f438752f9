//! How does a drawing become SVG, for files and for pages?

use std::fmt::Write;

use crate::still::Lettering;
use crate::text::is_direction_mark;
use crate::theme::Theme;

use super::{CanvasPoint, Drawing, Mark, Pen, Role, Text, Tint, arrow_head};

/// Which colours an SVG has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SvgColours {
    /// Those of a theme, with the theme's panel behind it all.
    Theme(Theme),
    /// Style-sheet variables named after the roles (`var(--ink)`), for a page that sets them.
    Variables,
}

/// What an SVG's letters are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SvgLetters {
    /// Outlines: they look the same everywhere.
    Outlines,
    /// Text in "Open Sans", for a page that brings the type.
    Type,
}

impl Drawing {
    /// The drawing as an SVG element; a whole file where its colours are a theme's.
    pub fn svg(&self, colours: SvgColours, letters: SvgLetters) -> String {
        let mut svg = String::new();
        let paper = match colours {
            SvgColours::Theme(theme) => Some(theme),
            SvgColours::Variables => None,
        };
        // Writing to a string cannot fail; the results are dropped below for that.
        let _ = write!(
            svg,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" role=\"img\" \
             aria-label=\"{}\" stroke-linecap=\"round\" stroke-linejoin=\"round\" fill=\"none\">",
            escaped(&self.words),
            w = number(self.width_pt),
            h = number(self.height_pt),
        );
        if paper.is_some() {
            let _ = write!(svg, "<title>{}</title>", escaped(&self.words));
            let _ = write!(svg, "<rect width=\"100%\" height=\"100%\" fill=\"{}\"/>", colour(Role::Panel, colours));
        }
        for mark in &self.marks {
            self.write_mark(&mut svg, mark, colours, letters);
        }
        svg += "</svg>";
        if paper.is_some() {
            svg += "\n";
        }
        svg
    }

    fn write_mark(&self, svg: &mut String, mark: &Mark, colours: SvgColours, letters: SvgLetters) {
        let _ = match mark {
            Mark::Line { points, pen } => {
                write!(svg, "<path d=\"{}\"{}/>", path(points, false), stroked(Some(pen), colours))
            }
            Mark::Area { rings, fill, pen } => {
                let shape: String = rings.iter().map(|ring| path(ring, true)).collect();
                write!(
                    svg,
                    "<path fill-rule=\"evenodd\" d=\"{shape}\"{}{}/>",
                    filled(fill.as_ref(), colours),
                    stroked(pen.as_ref(), colours)
                )
            }
            Mark::Circle { centre, radius_pt, fill, pen } => write!(
                svg,
                "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{}{}/>",
                number(centre.0),
                number(centre.1),
                number(*radius_pt),
                filled(fill.as_ref(), colours),
                stroked(pen.as_ref(), colours)
            ),
            Mark::Arrow { from, to, pen } => {
                let mut shape = path(&[*from, *to], false);
                shape += &arrow_head(*from, *to, pen).map_or_else(String::new, |head| path(&head, false));
                write!(svg, "<path d=\"{shape}\"{}/>", stroked(Some(pen), colours))
            }
            Mark::Text(text) => {
                write_text(svg, text, colours, letters);
                Ok(())
            }
        };
    }
}

fn write_text(svg: &mut String, text: &Text, colours: SvgColours, letters: SvgLetters) {
    if text.plate {
        let room = text.room();
        let _ = write!(
            svg,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"3\"{}/>",
            number(room.left),
            number(room.top),
            number(room.right - room.left),
            number(room.bottom - room.top),
            filled(Some(&super::PLATE), colours)
        );
    }
    let (x, y) = text.baseline();
    let fill = filled(Some(&text.role.full()), colours);
    let _ = match letters {
        SvgLetters::Outlines => {
            let lettering = Lettering::new(text.weight, text.size_pt);
            let shape = lettering.outline(&text.text, (x, y)).map_or_else(String::new, |path| segments(&path));
            write!(svg, "<path d=\"{shape}\"{fill}/>")
        }
        SvgLetters::Type => {
            let weight = if text.weight == super::Weight::Semibold { " font-weight=\"600\"" } else { "" };
            write!(
                svg,
                "<text x=\"{}\" y=\"{}\" font-size=\"{}\" font-family=\"'Open Sans', sans-serif\"{weight}{fill}>{}</text>",
                number(x),
                number(y),
                number(text.size_pt),
                escaped(&text.text)
            )
        }
    };
}

fn colour(role: Role, colours: SvgColours) -> String {
    match colours {
        SvgColours::Theme(theme) => role.colour(theme.palette()).to_hex(),
        SvgColours::Variables => format!("var(--{})", role.name()),
    }
}

fn filled(fill: Option<&Tint>, colours: SvgColours) -> String {
    fill.map_or_else(String::new, |tint| {
        let opacity =
            if tint.opacity < 1.0 { format!(" fill-opacity=\"{}\"", number(tint.opacity)) } else { String::new() };
        format!(" fill=\"{}\"{opacity}", colour(tint.role, colours))
    })
}

fn stroked(pen: Option<&Pen>, colours: SvgColours) -> String {
    pen.map_or_else(String::new, |pen| {
        let dash = pen.pattern().map_or_else(String::new, |[stroke, gap]| {
            format!(" stroke-dasharray=\"{} {}\"", number(stroke), number(gap))
        });
        format!(" stroke=\"{}\" stroke-width=\"{}\"{dash}", colour(pen.role, colours), number(pen.width_pt))
    })
}

fn path(points: &[CanvasPoint], closed: bool) -> String {
    let mut path = String::new();
    for (index, &(x, y)) in points.iter().enumerate() {
        path += if index == 0 { "M" } else { "L" };
        path += &number(x);
        path += " ";
        path += &number(y);
    }
    if closed {
        path += "Z";
    }
    path
}

/// The outlines of letters.
fn segments(path: &tiny_skia::Path) -> String {
    use tiny_skia::PathSegment;
    let mut text = String::new();
    let place = |point: tiny_skia::Point| format!("{} {}", number(f64::from(point.x)), number(f64::from(point.y)));
    for segment in path.segments() {
        text += &match segment {
            PathSegment::MoveTo(to) => format!("M{}", place(to)),
            PathSegment::LineTo(to) => format!("L{}", place(to)),
            PathSegment::QuadTo(by, to) => format!("Q{} {}", place(by), place(to)),
            PathSegment::CubicTo(by, then, to) => format!("C{} {} {}", place(by), place(then), place(to)),
            PathSegment::Close => "Z".to_owned(),
        };
    }
    text
}

/// A number with at most two digits behind the point, and none that say nothing.
fn number(value: f64) -> String {
    let text = format!("{:.2}", value + 0.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// Text as it may stand in XML, within quotes too; what XML has no place for, and what turns the direction of text, is left out.
fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => escaped += "&amp;",
            '<' => escaped += "&lt;",
            '>' => escaped += "&gt;",
            '"' => escaped += "&quot;",
            '\'' => escaped += "&#39;",
            '\t' | '\n' | '\r' => escaped.push(letter),
            letter if letter.is_control() || is_direction_mark(letter) || matches!(letter, '\u{fffe}' | '\u{ffff}') => {
            }
            letter => escaped.push(letter),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_names_harmless() {
        assert_eq!([number(1.0), number(-0.001), number(2.504), number(10.0)], ["1", "0", "2.5", "10"]);
        assert_eq!(escaped("a<b> & \"c\" d's \u{1}\u{202e}"), "a&lt;b&gt; &amp; &quot;c&quot; d&#39;s ");
    }
}
