//! How does a card read on a telephone?

use maud::{Markup, html};

use crate::handover::html::{Pictures, Shell, drawing, page};
use crate::handover::jpeg::PackError;
use crate::handover::page::aspect_of;

use super::content::{FieldCard, LinedUp};

impl FieldCard {
    /// What it is called in lists of files and windows.
    pub fn name(&self) -> String {
        self.words.card_name(&self.label, &self.site)
    }

    /// The card as a web page: one file that works offline.
    ///
    /// # Errors
    /// A picture cannot be packed.
    pub fn html(&self) -> Result<String, PackError> {
        let (name, language) = (self.name(), self.words.language());
        let shell = Shell { name: &name, language: &language, class: "pocket", paper: self.paper, script: None };
        page(&shell, |pictures| self.content(pictures))
    }

    fn content(&self, pictures: &Pictures) -> Result<Markup, PackError> {
        Ok(html! {
            main {
                div.side { (self.camera(pictures)?) }
                div.side { (self.feet(pictures)?) }
            }
            footer { p { (self.footer) } }
        })
    }

    fn camera(&self, pictures: &Pictures) -> Result<Markup, PackError> {
        let words = &self.words;
        Ok(html! {
            header {
                div { h1 { bdi { (self.label) } } p { bdi { (self.site) } } }
                @if let Some((when, light)) = &self.planned { p.date { strong { (when) } br; (light) } }
            }
            dl.settings {
                @for (index, setting) in self.settings.iter().enumerate() {
                    div.large[index < 3] { dt { (setting.label) } dd { (setting.value) } }
                }
            }
            section.verdict {
                (drawing(&self.gauge))
                div {
                    h2 { (self.verdict) }
                    p { (self.leans) }
                    p { strong { (words.afterwards()) } " " (self.afterwards) }
                }
            }
            section.finder.wide[aspect_of(&self.picture) >= 1.0] {
                figure { div.over {
                    (pictures.picture(&self.picture, &words.finder_shows(&self.label), None)?)
                    @if self.kept.is_some() || !self.letters.is_empty() { (self.over()) }
                } }
                div {
                    h2 { (words.before_heading()) }
                    ul { @for tick in &self.ticks { li.tick { (tick) } } }
                }
            }
            @if let Some(note) = &self.note { section { h2 { (words.note_heading()) } p { (note) } } }
        })
    }

    /// The outline of what is kept, and the letters of what lines up, over the picture.
    fn over(&self) -> Markup {
        let (wide, high) = (600.0 * aspect_of(&self.picture), 600.0);
        let inside = |share: f64| share.clamp(0.0, 1.0);
        let corners = self.kept.iter().flatten();
        let points: Vec<String> =
            corners.map(|(x, y)| format!("{:.1},{:.1}", inside(*x) * wide, inside(*y) * high)).collect();
        let letters: String = self.letters.iter().map(|(letter, _)| format!("{letter} ")).collect();
        html! {
            svg viewBox=(format!("0 0 {wide:.1} {high:.1}")) role="img" aria-label={ (self.afterwards) " " (letters.trim()) } {
                @if !points.is_empty() { polygon points=(points.join(" ")) {} }
                @for (letter, (x, y)) in &self.letters {
                    circle cx=(format!("{:.1}", x * wide)) cy=(format!("{:.1}", y * high)) r="20" fill="#2b2a27" stroke="#fffdf8" stroke-width="2" {}
                    text x=(format!("{:.1}", x * wide)) y=(format!("{:.1}", y * high + 9.0)) fill="#fffdf8" font-size="25"
                        font-weight="600" text-anchor="middle" { (letter) }
                }
            }
        }
    }

    fn feet(&self, pictures: &Pictures) -> Result<Markup, PackError> {
        let words = &self.words;
        Ok(html! {
            section.plan {
                h2 { (words.stand_heading()) }
                figure { (drawing(&self.plan)) }
                div.coordinates {
                    p { @for (index, line) in self.place.iter().enumerate() { @if index == 0 { strong { (line) } } @else { br; span { (line) } } } }
                    @for (distance, bearing) in &self.marks { p { strong { (distance) } br; span { (bearing) } } }
                }
            }
            section {
                @for pair in &self.lined_up { (lined_up(pictures, pair)?) }
                @if self.lined_up.is_empty() { p { (words.nothing_lines_up()) } }
            }
            section.tolerance {
                h2 { (words.tolerance_heading()) " " small { (words.tolerance_until()) } }
                @match &self.tolerance {
                    Some(arrows) => figure { (drawing(arrows)) },
                    None => p { (words.tolerance_none()) },
                }
            }
            @if !self.cautions.is_empty() {
                section {
                    h2 { (words.cautions_heading()) }
                    ul.access { @for caution in &self.cautions { li.caution { (caution) } } }
                }
            }
        })
    }
}

fn lined_up(pictures: &Pictures, pair: &LinedUp) -> Result<Markup, PackError> {
    Ok(html! {
        div.lined {
            figure { div.over {
                (pictures.picture(&pair.picture, &pair.title, None)?)
                svg viewBox="0 0 300 200" role="img" aria-label=(pair.title) {
                    circle cx="150" cy="100" r="32" fill="none" stroke="#2b2a27" stroke-width="3" {}
                }
            } }
            div {
                h2 { span.letter { (pair.letter) } (pair.title) }
                p { (pair.text) }
            }
        }
    })
}
