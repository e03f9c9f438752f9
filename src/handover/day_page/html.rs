//! How does a day read in a browser, on a desk and on a telephone?

use maud::{Markup, html};

use crate::handover::html::{Shell, drawing, page};
use crate::handover::jpeg::PackError;
use crate::handover::page::Paper;
use crate::text::PlainText;

use super::build::{DayPages, HOURS};

impl DayPages {
    /// The day as a web page: one file that works offline.
    ///
    /// # Errors
    /// Never: the page has no pictures; the type is that of all pages.
    pub fn html(&self) -> Result<String, PackError> {
        let title = self.title();
        let paper = Paper { size: self.paper, ..Paper::default() };
        let shell = Shell { name: &title, language: "en", class: "sheet", paper, script: None };
        page(&shell, |_| Ok(self.content()))
    }

    fn content(&self) -> Markup {
        html! {
            main {
                header.head { p { strong { bdi { (self.site) } } } p.whose { span { (self.subtitle) } } }
                h1 { (self.heading) }
                p.why { (self.said) }
                section { (drawing(&self.drawing)) }
                section {
                    table {
                        thead { tr { th scope="col" { "Stance" } @for column in HOURS { th scope="col" { (column) } } } }
                        tbody {
                            @for (index, row) in self.rows.iter().enumerate() {
                                tr {
                                    th scope="row" { span.number { (index + 1) } " " bdi { (row.name) } }
                                    @for (column, cell) in HOURS.iter().zip(&row.cells) { td data-of=(column) { (cell) } }
                                }
                            }
                        }
                    }
                }
                div.pair-of {
                    @for part in &self.parts { section { h2 { (part.heading) } (lines(&part.lines)) } }
                }
                @if !self.cautions.is_empty() {
                    section {
                        h2 { "Cautions" }
                        ul.access { @for (at, text) in &self.cautions { li.caution { strong { (at) } " " (text) } } }
                    }
                }
            }
            footer { p { (self.footer) } }
        }
    }
}

fn lines(lines: &[(PlainText, PlainText)]) -> Markup {
    html! {
        ul { @for (lead, text) in lines { li { @if !lead.is_empty() { strong { (lead) } " " } (text) } } }
    }
}
