//! How does a sheet read in a browser, on a desk and on a telephone?

use maud::{Markup, html};

use crate::handover::html::{Pictures, Shell, drawing, logo, page};
use crate::handover::jpeg::PackError;
use crate::still::Picture;

use super::content::{AccessSign, ClientSheet, Figures, Received, Shape, Standpoint};

/// A picture that may be compared with others: by what the script finds it, and what it is called.
struct Compared {
    id: String,
    name: String,
}

impl ClientSheet {
    /// The sheet as a web page: one file that works offline, under 3 MB where its pictures allow it.
    ///
    /// # Errors
    /// A picture cannot be packed.
    pub fn html(&self) -> Result<String, PackError> {
        let language = self.words.language();
        let compared = self.compared();
        let shell = Shell {
            name: &self.title,
            language: &language,
            class: "sheet",
            paper: self.paper,
            script: (compared.len() > 1).then_some(include_str!("../page.js")),
        };
        page(&shell, |pictures| self.content(pictures, &compared))
    }

    fn content(&self, pictures: &Pictures, compared: &[Compared]) -> Result<Markup, PackError> {
        let words = &self.words;
        Ok(html! {
            main {
                header.head {
                    p { strong { bdi { (self.title) } } @if let Some(client) = &self.client { br; bdi { (client) } } }
                    p.whose {
                        @if let Some(file) = &self.logo { (logo(file)) }
                        span {
                            @if !self.name.is_empty() { strong { bdi { (self.name) } } br; }
                            @for line in &self.contact { bdi { (line) } br; }
                            (self.day)
                        }
                    }
                }
                div.lead.wide[crate::handover::page::aspect_of(&self.chosen.picture) >= 1.0] {
                    figure.hero {
                        (self.standpoint_picture(pictures, &self.chosen)?)
                        figcaption {
                            (number(self.chosen.number))
                            span { strong { bdi { (self.chosen.label) } "." } " " @if !self.chosen.text.is_empty() { (self.chosen.text) ". " } (self.scale) }
                        }
                    }
                    div.says {
                        h1 { bdi { (self.headline) } }
                        p.why { (self.why) }
                        @if let Some(introduction) = &self.introduction { p.text { (introduction) } }
                        section.when {
                            h2 { (words.when_heading()) }
                            @for (index, line) in self.when.iter().enumerate() { p.first[index == 0] { (line) } }
                        }
                        section {
                            h2 { (words.access_heading()) }
                            ul.access {
                                @for line in &self.access {
                                    li class=(sign(line.sign)) { strong { bdi { (line.place) } } " " (line.text) }
                                }
                            }
                        }
                    }
                }
                div.pair-of {
                    @if let Some((heading, second)) = &self.second {
                        section {
                            h2 { (heading) }
                            div.second {
                                (self.standpoint_picture(pictures, second)?)
                                div {
                                    h3 { (number(second.number)) bdi { (second.label) } }
                                    p { (second.text) }
                                }
                            }
                        }
                    }
                    section.plan {
                        h2 { (words.where_heading()) }
                        figure { (drawing(&self.plan)) }
                    }
                }
                (self.received(pictures, &self.received)?)
                @if !self.others.is_empty() {
                    section.looked {
                        h2.large { (words.others_heading()) }
                        div.others {
                            @for other in &self.others {
                                article {
                                    (self.standpoint_picture(pictures, other)?)
                                    h3 { (number(other.number)) bdi { (other.label) } }
                                    p { (other.text) }
                                }
                            }
                        }
                    }
                }
                @if !self.shapes.is_empty() {
                    section {
                        h2.large { (words.shapes_heading()) }
                        p.note { (words.shapes_note("1")) }
                        div.shapes { @for shape in &self.shapes { (self.shape(pictures, shape)?) } }
                    }
                }
                section.decide {
                    h2 { (self.reply) }
                    ul {
                        @for decision in &self.decisions {
                            li.tick { strong { (decision.text) } @if !decision.note.is_empty() { br; span { (decision.note) } } }
                        }
                    }
                }
                @if let Some(figures) = &self.figures {
                    section { h2.large { (words.figures_heading()) } (table(figures)) }
                }
                (self.compare(compared))
                @if let Some(closing) = &self.closing { p.text { (closing) } }
            }
            footer { p { (self.footer) } }
        })
    }

    fn standpoint_picture(&self, pictures: &Pictures, point: &Standpoint) -> Result<Markup, PackError> {
        let id = format!("picture-{}", point.number);
        self.picture(
            pictures,
            &point.picture,
            &self.words.picture_from(&point.label, &self.words.delivered()),
            Some(&id),
        )
    }

    fn picture(
        &self,
        pictures: &Pictures,
        picture: &Picture,
        words: &str,
        id: Option<&str>,
    ) -> Result<Markup, PackError> {
        pictures.picture(picture, words.trim_end_matches('.'), id)
    }

    /// The picture as it is taken with the outline of what is kept, and as it is delivered with a plumb line.
    fn received(&self, pictures: &Pictures, received: &Received) -> Result<Markup, PackError> {
        let words = &self.words;
        let label = &self.chosen.label;
        let delivered = self.words.picture_from(label, &words.delivered());
        Ok(html! {
            section.receive {
                h2.large { (words.receive_heading()) }
                div.received {
                    @if let Some(taken) = &received.taken {
                        figure {
                            div.over {
                                (self.picture(pictures, &taken.picture, &words.picture_from(label, &words.taken()), Some("taken-1"))?)
                                svg viewBox="0 0 1 1" preserveAspectRatio="none" role="img" aria-label=(taken.text) {
                                    polygon points=(points(&taken.kept)) {}
                                }
                            }
                            figcaption { strong { (words.taken()) } " " (taken.text) }
                        }
                    }
                    figure.one[received.taken.is_none()] {
                        div.over.plumbed { (self.picture(pictures, &self.chosen.picture, &delivered, None)?) }
                        figcaption { strong { (words.delivered()) } " " (received.delivered) }
                    }
                }
            }
        })
    }

    fn shape(&self, pictures: &Pictures, shape: &Shape) -> Result<Markup, PackError> {
        Ok(html! {
            figure {
                (self.picture(pictures, &shape.picture, &format!("{} {}", shape.name, shape.proportion), None)?)
                figcaption.tick { strong { (shape.name) } " " (shape.proportion) br; span { (shape.text) } }
            }
        })
    }

    /// The pictures that may be compared, two at a time.
    fn compared(&self) -> Vec<Compared> {
        let words = &self.words;
        let name = |point: &Standpoint, what: &str| {
            words.picture_from(&format!("{} {}", point.number, point.label), what.trim_end_matches('.'))
        };
        let taken = self
            .received
            .taken
            .iter()
            .map(|_| Compared { id: "taken-1".into(), name: name(&self.chosen, &words.taken()) });
        let points = [&self.chosen].into_iter().chain(self.second.iter().map(|(_, second)| second)).chain(&self.others);
        let delivered = points
            .map(|point| Compared { id: format!("picture-{}", point.number), name: name(point, &words.delivered()) });
        taken.chain(delivered).collect()
    }

    /// Two pictures over one another with a slider between. It is shown by its script.
    fn compare(&self, compared: &[Compared]) -> Markup {
        let words = &self.words;
        let options = |chosen: usize| {
            html! {
                @for (index, picture) in compared.iter().enumerate() {
                    option value=(picture.id) selected[index == chosen] { (picture.name) }
                }
            }
        };
        html! {
            @if compared.len() > 1 {
                section.compare #compare hidden {
                    h2.large { (words.compare_heading()) }
                    div.pair #pair {
                        img.under alt="";
                        img.over alt="";
                        span.cut.paper {}
                        input type="range" id="share" min="0" max="100" value="50" aria-label=(words.compare_share())
                            data-rest=(words.compare_slider());
                    }
                    div.choose {
                        label { (words.compare_left()) select id="left" { (options(0)) } }
                        label { (words.compare_right()) select id="right" { (options(1)) } }
                    }
                }
            }
        }
    }
}

fn number(number: usize) -> Markup {
    let class = match number {
        1 => "number",
        2 => "number second-number",
        _ => "number other-number",
    };
    html! { span class=(class) { (number) } }
}

const fn sign(sign: AccessSign) -> &'static str {
    match sign {
        AccessSign::Open => "open",
        AccessSign::Ask => "ask",
        AccessSign::Closed => "closed",
        AccessSign::Caution => "caution",
    }
}

/// The corners of an outline that lie in the picture, as SVG writes them.
fn points(outline: &[(f64, f64)]) -> String {
    let inside = |share: f64| share.clamp(0.0, 1.0);
    outline.iter().map(|(x, y)| format!("{:.4},{:.4}", inside(*x), inside(*y))).collect::<Vec<_>>().join(" ")
}

/// A table says what its cells are to those who have it read aloud, even where a narrow screen lays it out as a list.
fn table(figures: &Figures) -> Markup {
    html! {
        table role="table" {
            thead role="rowgroup" {
                tr role="row" { @for column in &figures.columns { th role="columnheader" scope="col" { (column) } } }
            }
            tbody role="rowgroup" {
                @for (number, name, cells) in &figures.rows {
                    tr role="row" {
                        th role="rowheader" scope="row" { (self::number(*number)) " " bdi { (name) } }
                        @for (column, cell) in figures.columns.iter().skip(1).zip(cells) {
                            td role="cell" data-of=(column) { (cell) }
                        }
                    }
                }
            }
        }
    }
}
