//! How do sheet and card become web pages: one file each, no request to any network, light and dark?
//!
//! Every text is escaped by the templates; the only trusted text is this folder's own style sheet and script, and the drawings,
//! which escape their own words. A page allows nothing else to run: its policy names style and script by their hashes.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, Render, html};
use sha2::{Digest, Sha256};

use crate::drawing::{Drawing, Role, SvgColours, SvgLetters};
use crate::still::Picture;
use crate::text::PlainText;
use crate::theme::Theme;

use super::brand::LogoFile;
use super::jpeg::{PackError, jpeg};
use super::page::{Paper, PaperSize};
use crate::optics::Orientation;

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

/// What a page is, around what stands on it.
pub(super) struct Shell<'a> {
    /// What it is called in lists of files and windows.
    pub(super) name: &'a str,
    /// The language of its words.
    pub(super) language: &'a str,
    /// How it is laid out: a class of the style sheet.
    pub(super) class: &'static str,
    /// The paper that it is printed on.
    pub(super) paper: Paper,
    /// The script that it runs, if any.
    pub(super) script: Option<&'static str>,
}

/// The page with pictures of the best quality by which it is small enough.
pub(super) fn page(
    shell: &Shell<'_>,
    content: impl Fn(&Pictures) -> Result<Markup, PackError>,
) -> Result<String, PackError> {
    let mut page = String::new();
    for quality in QUALITIES {
        page = shell.around(&content(&Pictures { quality })?).into_string();
        if page.len() <= LARGEST_PAGE_BYTES {
            break;
        }
    }
    Ok(page)
}

/// Puts pictures on pages, of one quality.
pub(super) struct Pictures {
    quality: u8,
}

impl Pictures {
    /// A picture with what it shows in words, and by what a script finds it.
    pub(super) fn picture(&self, picture: &Picture, alternative: &str, id: Option<&str>) -> Result<Markup, PackError> {
        let source = data_address("image/jpeg", &jpeg(picture, self.quality)?);
        Ok(html! {
            img id=[id] alt=(PlainText::from(alternative)) width=(picture.width_px) height=(picture.height_px) src=(source);
        })
    }
}

/// A drawing; its words stand within it.
pub(super) fn drawing(drawing: &Drawing) -> Markup {
    PreEscaped(drawing.svg(SvgColours::Variables, SvgLetters::Outlines))
}

/// Somebody's logo, which says nothing that does not stand beside it.
pub(super) fn logo(logo: &LogoFile) -> Markup {
    html! { img.logo alt="" src=(data_address(if logo.png { "image/png" } else { "image/jpeg" }, &logo.bytes)); }
}

/// The colours of both themes, and what makes pages of them.
fn style_sheet(paper: Paper) -> String {
    let variables = |theme: Theme| -> String {
        Role::ALL.iter().map(|role| format!("--{}:{};", role.name(), role.colour(theme.palette()).to_hex())).collect()
    };
    let (light, dark) = (variables(Theme::Paper), variables(Theme::Dusk));
    let turned = if paper.turned == Orientation::Landscape { " landscape" } else { "" };
    let (size, half) = match paper.size {
        PaperSize::A4 => ("A4", "148mm 210mm"),
        PaperSize::Letter => ("letter", "5.5in 8.5in"),
    };
    format!(
        "\n:root{{color-scheme:light dark;{light}}}\n\
         @media (prefers-color-scheme:dark){{:root{{{dark}}}}}\n\
         @media print{{:root{{color-scheme:light;{light}}}}}\n\
         @page sheet{{size:{size}{turned};margin:11mm}}\n@page pocket{{size:{half};margin:8mm}}\n{}",
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

impl Shell<'_> {
    fn around(&self, content: &Markup) -> Markup {
        let style = style_sheet(self.paper);
        html! {
            (DOCTYPE)
            html lang=(self.language) {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(policy(&style, self.script));
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light dark";
                    meta name="generator" content={ "plumbsight " (env!("CARGO_PKG_VERSION")) };
                    link rel="icon" href="data:,";
                    title { (PlainText::from(self.name)) }
                    style { (PreEscaped(&style)) }
                }
                body class=(self.class) {
                    (content)
                    @if let Some(script) = self.script { script { (PreEscaped(script)) } }
                }
            }
        }
    }
}
