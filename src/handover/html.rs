//! How does a document become a web page: one file, no request to any network, light and dark?
//!
//! Everything on the page comes from the document, escaped by the templates; the only trusted text is this folder's own style
//! sheet and script, and the drawings, which escape their own words. The page allows nothing else to run: its policy names
//! style and script by their hashes.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, Render, html};
use sha2::{Digest, Sha256};

use crate::drawing::{Role, SvgColours, SvgLetters};
use crate::text::PlainText;
use crate::theme::Theme;

use super::document::{
    Article, Document, DocumentBlock, Fact, GalleryPicture, Illustration, Image, Letterhead, List, ListMarks,
    PageLayout, Paragraph, Section, Table, Tone,
};
use super::jpeg::{PackError, jpeg};

/// As large as a page may get, so that it can be sent by mail.
pub const LARGEST_PAGE_BYTES: usize = 3_000_000;
/// The qualities of its pictures, of 100, that are tried until it is small enough.
const QUALITIES: [u8; 4] = [84, 76, 66, 54];

/// A file as an address that holds it.
fn data_address(kind: &str, bytes: &[u8]) -> String {
    format!("data:{kind};base64,{}", STANDARD.encode(bytes))
}

impl Render for PlainText {
    fn render_to(&self, buffer: &mut String) {
        (**self).render_to(buffer);
    }
}

impl Document {
    /// The document as a web page: one file that works offline, under 3 MB where its pictures allow it.
    ///
    /// # Errors
    /// A picture cannot be packed.
    pub fn html(&self) -> Result<String, PackError> {
        let mut page = String::new();
        for quality in QUALITIES {
            page = Writer { quality }.page(self)?.into_string();
            if page.len() <= LARGEST_PAGE_BYTES {
                break;
            }
        }
        Ok(page)
    }
}

/// The colours of both themes, and what makes pages of them.
fn style_sheet() -> String {
    let variables = |theme: Theme| -> String {
        Role::ALL.iter().map(|role| format!("--{}:{};", role.name(), role.colour(theme.palette()).to_hex())).collect()
    };
    let (paper, dusk) = (variables(Theme::Paper), variables(Theme::Dusk));
    format!(
        "\n:root{{color-scheme:light dark;{paper}}}\n\
         @media (prefers-color-scheme:dark){{:root{{{dusk}}}}}\n\
         @media print{{:root{{color-scheme:light;{paper}}}}}\n.paper{{{paper}}}\n{}",
        include_str!("page.css")
    )
}

/// What the page may load and run: its own style and script by their hashes, pictures that it holds itself, nothing else.
///
/// # Source
/// W3C, *Content Security Policy Level 3*, section 2.3.1: a hash is of the element's text, in base64.
fn policy(style: &str, script: Option<&str>) -> String {
    let hash = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())));
    format!(
        "default-src 'none'; img-src data:; style-src {}; script-src {}; base-uri 'none'; form-action 'none'",
        hash(style),
        script.map_or_else(|| "'none'".to_owned(), hash)
    )
}

/// Writes pages with pictures of one quality.
#[derive(Clone, Copy)]
struct Writer {
    quality: u8,
}

impl Writer {
    fn page(self, document: &Document) -> Result<Markup, PackError> {
        let style = style_sheet();
        let compares =
            document.all_blocks().iter().any(|block| matches!(block, DocumentBlock::Gallery(all) if all.len() > 1));
        let script = compares.then_some(include_str!("page.js"));
        Ok(html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(policy(&style, script));
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light dark";
                    meta name="generator" content={ "plumbsight " (env!("CARGO_PKG_VERSION")) };
                    link rel="icon" href="data:,";
                    title { (document.name) }
                    style { (PreEscaped(&style)) }
                }
                body class=(match document.layout { PageLayout::Pocket => "pocket", PageLayout::Report => "report" }) {
                    main {
                        @if let Some(letterhead) = &document.letterhead { (letterhead_markup(letterhead)) }
                        header {
                            h1 { bdi { (document.title) } }
                            p.lead { (document.subtitle) }
                            @if let Some(introduction) = &document.introduction { p.text { (introduction) } }
                        }
                        @for block in &document.blocks { (self.block(block)?) }
                    }
                    footer { p { (document.footer) } }
                    @if let Some(script) = script { script { (PreEscaped(script)) } }
                }
            }
        })
    }

    fn block(self, block: &DocumentBlock) -> Result<Markup, PackError> {
        Ok(match block {
            DocumentBlock::Section(section) => self.section(section)?,
            DocumentBlock::Columns(sections) => html! {
                div.two { @for section in sections { (self.section(section)?) } }
            },
            DocumentBlock::Illustration(illustration) => self.illustration(illustration, "card")?,
            DocumentBlock::Gallery(pictures) if pictures.len() > 1 => gallery(pictures),
            DocumentBlock::Gallery(_) => html! {},
            DocumentBlock::Article(article) => self.article(article)?,
            DocumentBlock::Paragraph(paragraph) => self::paragraph(paragraph),
            DocumentBlock::Facts(facts) => self::facts(facts),
            DocumentBlock::List(list) => self::list(list),
            DocumentBlock::Table(table) => self::table(table),
        })
    }

    fn section(self, section: &Section) -> Result<Markup, PackError> {
        // What has frames of its own stands on the table, everything else on a card.
        let framed = section.blocks.iter().any(|block| matches!(block, DocumentBlock::Article(_)));
        Ok(html! {
            section.card[!framed].caution[section.cautions] {
                h2 { (section.title) }
                @for block in &section.blocks {
                    @match block {
                        DocumentBlock::Illustration(illustration) => (self.illustration(illustration, "plain")?),
                        block => (self.block(block)?),
                    }
                }
            }
        })
    }

    fn illustration(self, illustration: &Illustration, class: &str) -> Result<Markup, PackError> {
        let tall = illustration.aspect() < 1.0;
        Ok(html! {
            figure class={ (class) @if tall { " tall" } } {
                @match &illustration.image {
                    Image::Picture(picture) => img id=[illustration.id.as_deref()] alt=(illustration.alternative)
                        width=(picture.width_px) height=(picture.height_px)
                        src=(data_address("image/jpeg", &jpeg(picture, self.quality)?));,
                    // The drawing's words stand within it.
                    Image::Drawing(drawing) => (PreEscaped(drawing.svg(SvgColours::Variables, SvgLetters::Outlines))),
                }
                @if let Some(caption) = &illustration.caption { figcaption { (caption) } }
            }
        })
    }

    fn article(self, article: &Article) -> Result<Markup, PackError> {
        let (main, others) = article.illustrations.split_at(1.min(article.illustrations.len()));
        Ok(html! {
            article {
                @for illustration in main { (self.illustration(illustration, "main")?) }
                div {
                    h3 { span.number { (article.number) } bdi { (article.title) } }
                    @for paragraph in &article.paragraphs { (self::paragraph(paragraph)) }
                    @for illustration in others { (self.illustration(illustration, "after")?) }
                }
            }
        })
    }
}

fn letterhead_markup(letterhead: &Letterhead) -> Markup {
    html! {
        div.letterhead {
            @if let Some(logo) = &letterhead.logo {
                img alt="" src=(data_address(if logo.png { "image/png" } else { "image/jpeg" }, &logo.bytes));
            }
            strong { bdi { (letterhead.name) } }
            span {
                @for (index, line) in letterhead.contact.iter().enumerate() {
                    @if index > 0 { br; }
                    bdi { (line) }
                }
            }
        }
    }
}

fn paragraph(paragraph: &Paragraph) -> Markup {
    let class = match paragraph.tone {
        Tone::Plain => None,
        Tone::Note => Some("note"),
        Tone::Needed => Some("needed"),
    };
    html! { p class=[class] { (paragraph.text) } }
}

fn facts(facts: &[Fact]) -> Markup {
    html! {
        dl {
            @for fact in facts {
                div {
                    dt { bdi { (fact.label) } }
                    dd {
                        (fact.value)
                        @if let Some(note) = &fact.note { small { (note) } }
                    }
                }
            }
        }
    }
}

fn list(list: &List) -> Markup {
    let items = html! {
        @for item in &list.items {
            li {
                @if let Some(lead) = &item.lead { strong { bdi { (lead) } } ": " }
                (item.text)
            }
        }
    };
    match list.marks {
        ListMarks::Bullets => html! { ul { (items) } },
        ListMarks::Letters => html! { ol.letters { (items) } },
    }
}

/// A table says what its cells are to those who have it read aloud, even where a narrow screen lays it out as a list.
fn table(table: &Table) -> Markup {
    html! {
        table role="table" {
            thead role="rowgroup" {
                tr role="row" {
                    th role="columnheader" scope="col" { (table.corner) }
                    @for column in &table.columns { th role="columnheader" scope="col" { (column) } }
                }
            }
            tbody role="rowgroup" {
                @for row in &table.rows {
                    tr role="row" {
                        th role="rowheader" scope="row" {
                            @if let Some(number) = row.number { span.number { (number) } }
                            bdi { (row.name) }
                        }
                        @for (column, cell) in table.columns.iter().zip(&row.cells) {
                            td role="cell" data-of=(column) { (cell) }
                        }
                    }
                }
            }
        }
    }
}

/// Two pictures over one another with a slider between. It is shown by its script: without one every picture stands below.
fn gallery(pictures: &[GalleryPicture]) -> Markup {
    // At first a picture and what comes after it, such as what straightening makes of it, where there is such a pair.
    let first = pictures.iter().position(|picture| picture.main.is_none()).map_or(0, |index| index.saturating_sub(1));
    let options = |chosen: usize| {
        html! {
            @for (index, picture) in pictures.iter().enumerate() {
                option value=(picture.id) selected[index == chosen] { (picture.name) }
            }
        }
    };
    html! {
        section.card.compare #compare hidden {
            h2 { "Compare two pictures" }
            div.pair #pair {
                img.under alt="";
                img.over alt="";
                span.cut.paper {}
                input type="range" id="share" min="0" max="100" value="50"
                    aria-label="How much of the left picture is shown";
            }
            div.choose {
                label { "On the left" select id="left" { (options(first)) } }
                label { "On the right" select id="right" { (options(first + 1)) } }
            }
        }
    }
}
