//! How is a site file changed without losing what the person wrote in it?
//!
//! Only the bytes of the value itself are replaced, or a new field or block is put in beside the others; comments, blanks
//! and the order of everything else stay. What comes out is read and checked before it is saved.

use std::path::Path;

use serde::Serialize;
use thiserror::Error;

use crate::files::{self, FileError, FileKind};

use super::check::likely;
use super::file::{LoadedSite, read_text, site_hash, walk};
use super::problem::SiteProblems;
use super::value_tree::{Field, Span, Value, ValueForm, blank_until, short};
use super::write::written;
use super::{Anchor, Block, Front, Site, Terrain};

/// A change that cannot be made.
#[derive(Debug, Error)]
pub enum EditError {
    /// No block has that name.
    #[error("no block is called '{name}'{}", if likely.is_empty() { String::new() } else { format!("; {likely}") })]
    NoBlock {
        /// What was asked for.
        name: String,
        /// What was probably meant, as a question.
        likely: String,
    },
    /// The file has faults, or would have after the change.
    #[error(transparent)]
    Problems(#[from] SiteProblems),
    /// The file cannot be read or written.
    #[error(transparent)]
    File(#[from] FileError),
}

/// The text of a site file while it is changed.
///
/// # Example
/// ```
/// use plumbsight::site::SiteEditor;
/// let text = "Site(format: 1, name: \"lane\", blocks: [\n    // the old one\n    (name: \"house\", at: (0, 0), \
///             shape: Box(width_m: 8, depth_m: 6, height_m: 7)),\n])";
/// let mut editor = SiteEditor::new(text, "lane.site.ron").unwrap();
/// editor.set_block_field("house", "subject", &true).unwrap();
/// let (text, site) = editor.finish().unwrap();
/// assert!(text.contains("// the old one\n    (name: \"house\", subject: true, at: (0, 0)"));
/// assert!(site.blocks[0].subject);
/// ```
#[derive(Clone, Debug)]
pub struct SiteEditor {
    /// As it was taken up.
    read: String,
    text: String,
    file_name: String,
}

impl SiteEditor {
    /// Takes up the text of a site; `file_name` is what problems call it.
    ///
    /// # Errors
    /// Everything that is wrong with it: a file with faults is not changed.
    pub fn new(text: &str, file_name: &str) -> Result<Self, SiteProblems> {
        let (site, problems) = read_text(text, file_name);
        match site {
            Some(_) => Ok(Self { read: text.to_owned(), text: text.to_owned(), file_name: file_name.to_owned() }),
            None => Err(problems),
        }
    }

    /// Sets a field of the block of this name, or puts it in after the name.
    ///
    /// # Errors
    /// No block has that name.
    pub fn set_block_field<T: Serialize>(&mut self, block: &str, field: &str, value: &T) -> Result<(), EditError> {
        let root = self.root()?;
        let blocks = root.field("blocks", &self.text).map(|field| &field.value);
        let items: &[Value] = match blocks.map(|blocks| &blocks.form) {
            Some(ValueForm::List(items)) => items,
            _ => &[],
        };
        let name_of = |item: &Value| {
            let name = item.field("name", &self.text)?;
            files::ron_options().from_str::<String>(name.value.span.of(&self.text)).ok()
        };
        let Some(item) = items.iter().find(|item| name_of(item).as_deref() == Some(block)) else {
            let names: Vec<String> = items.iter().filter_map(name_of).collect();
            return Err(EditError::NoBlock {
                name: short(block),
                likely: likely(block, names.iter().map(String::as_str)),
            });
        };
        let splice = match (item.field(field, &self.text), item.field("name", &self.text)) {
            (Some(known), _) => {
                let indent = column_of(&self.text, known.value.span.start as usize);
                Splice { place: known.value.span, text: written(value, indent) }
            }
            (None, name) => {
                let at = name.map_or(item.span.end as usize - 1, |name| name.value.span.end as usize);
                let indent = column_of(&self.text, item.span.start as usize) + 1;
                Splice { place: Span::new(at, at), text: format!(", {field}: {}", written(value, indent)) }
            }
        };
        self.splice(vec![splice]);
        Ok(())
    }

    /// Puts another terrain in place of the one there is.
    ///
    /// # Errors
    /// The text has faults since an earlier change.
    pub fn set_terrain(&mut self, terrain: &Terrain) -> Result<(), EditError> {
        self.set_field("terrain", terrain)
    }

    /// Puts another anchor in place of the one there is, or gives the site one.
    ///
    /// # Errors
    /// The text has faults since an earlier change.
    pub fn set_anchor(&mut self, anchor: &Anchor) -> Result<(), EditError> {
        self.set_field("anchor", anchor)
    }

    /// Says which side of the subject the picture is of.
    ///
    /// # Errors
    /// The text has faults since an earlier change.
    pub fn set_front(&mut self, front: &Front) -> Result<(), EditError> {
        self.set_field("front", front)
    }

    /// Adds blocks after those there are.
    ///
    /// # Errors
    /// The text has faults since an earlier change.
    pub fn append_blocks(&mut self, blocks: &[Block]) -> Result<(), EditError> {
        let root = self.root()?;
        let Some(field) = root.field("blocks", &self.text) else {
            return self.set_field("blocks", &blocks);
        };
        let list = &field.value;
        let line = self.newline();
        let items: &[Value] = match &list.form {
            ValueForm::List(items) => items,
            _ => &[],
        };
        let closing = list.span.end as usize - 1;
        let (indent, mut splices, at) = match items.last() {
            Some(last) => {
                let indent = items.first().map_or(0, |first| column_of(&self.text, first.span.start as usize));
                let gap = self.gap_after(last);
                (indent, gap.comma.into_iter().collect(), gap.at)
            }
            // Comments inside an empty list stay before the new blocks.
            None => (indent_of(&self.text, field.key.start as usize) + 4, Vec::new(), last_ink(&self.text, list)),
        };
        let mut text = String::new();
        for block in blocks {
            text.push_str(&format!("{line}{}{},", " ".repeat(indent), written(block, indent)));
        }
        // The closing bracket keeps a line of its own.
        let rest = self.text.get(at..closing).unwrap_or_default();
        if !blocks.is_empty() && !rest.contains('\n') {
            let outer = indent_of(&self.text, field.key.start as usize);
            text.push_str(&format!("{line}{}", " ".repeat(outer)));
            splices.push(Splice { place: Span::new(at, at + rest.len() - rest.trim_start().len()), text });
        } else {
            splices.push(Splice { place: Span::new(at, at), text });
        }
        self.splice(splices);
        Ok(())
    }

    /// The changed text and its site, read and checked.
    ///
    /// # Errors
    /// Everything that is wrong with it after the changes.
    pub fn finish(self) -> Result<(String, Site), SiteProblems> {
        match read_text(&self.text, &self.file_name) {
            (Some(site), _) => Ok((self.text, site)),
            (None, problems) => Err(problems),
        }
    }

    /// Saves the changed text once it has been read and checked, in place of the one that was taken up.
    ///
    /// # Errors
    /// Something is wrong with it after the changes, or the file there is not the one that was taken up
    /// ([`FileError::Changed`]), and nothing has been written; or it cannot be written.
    pub fn save(self, path: &Path) -> Result<LoadedSite, EditError> {
        let (site, problems) = read_text(&self.text, &self.file_name);
        let Some(site) = site else { return Err(problems.into()) };
        let read = files::is_there(path).then_some(self.read.as_str());
        files::rewrite(path, read, &self.text, FileKind::Site)?;
        let hash = site_hash(&self.text);
        Ok(LoadedSite { site, path: path.into(), hash, text: self.text, warnings: problems })
    }

    fn root(&self) -> Result<Value, SiteProblems> {
        match walk(&self.text).root {
            Some(root) => Ok(root),
            None => Err(read_text(&self.text, &self.file_name).1),
        }
    }

    fn newline(&self) -> &'static str {
        if self.text.contains("\r\n") { "\r\n" } else { "\n" }
    }

    /// Sets a field of the site itself, or puts it in after the name.
    fn set_field<T: Serialize>(&mut self, name: &str, value: &T) -> Result<(), EditError> {
        let root = self.root()?;
        if let Some(known) = root.field(name, &self.text) {
            let indent = indent_of(&self.text, known.key.start as usize);
            self.splice(vec![Splice { place: known.value.span, text: written(value, indent) }]);
            return Ok(());
        }
        let after = root.field("name", &self.text).or(root.fields().last());
        let Some(Field { key, value: before }) = after else { return Ok(()) };
        let indent = indent_of(&self.text, key.start as usize);
        let gap = self.gap_after(before);
        let text = if gap.ends_line {
            format!("{}{}{name}: {},", self.newline(), " ".repeat(indent), written(value, indent))
        } else {
            format!(" {name}: {},", written(value, indent))
        };
        let mut splices: Vec<Splice> = gap.comma.into_iter().collect();
        splices.push(Splice { place: Span::new(gap.at, gap.at), text });
        self.splice(splices);
        Ok(())
    }

    /// Where something new goes after an entry: behind its comma, and behind a comment that ends its line.
    fn gap_after(&self, entry: &Value) -> Gap {
        let end = entry.span.end as usize;
        let next = blank_until(&self.text, end);
        let (comma, after) = if self.text.as_bytes().get(next) == Some(&b',') {
            (None, next + 1)
        } else {
            (Some(Splice { place: Span::new(end, end), text: ",".into() }), end)
        };
        let line_end = self.text.get(after..).and_then(|rest| rest.find('\n')).map_or(self.text.len(), |at| after + at);
        let line_end = if self.text.get(after..line_end).is_some_and(|rest| rest.ends_with('\r')) {
            line_end - 1
        } else {
            line_end
        };
        // Nothing but blanks and comments up to the end of the line, and no comment that runs on into the next.
        let ends_line = blank_until(&self.text, after) >= line_end && {
            let rest = self.text.get(after..line_end).unwrap_or_default();
            blank_until(rest, 0) == rest.len()
        };
        Gap { comma, at: if ends_line { line_end } else { after }, ends_line }
    }

    fn splice(&mut self, mut splices: Vec<Splice>) {
        splices.sort_by_key(|splice| splice.place);
        for splice in splices.into_iter().rev() {
            self.text.replace_range(splice.place.range(), &splice.text);
        }
    }
}

/// Bytes to be replaced, and by what.
struct Splice {
    place: Span,
    text: String,
}

struct Gap {
    /// The comma that is still missing.
    comma: Option<Splice>,
    at: usize,
    ends_line: bool,
}

/// Where the comments of an empty list end.
fn last_ink(text: &str, list: &Value) -> usize {
    let inside = list.span.start as usize + 1..list.span.end as usize - 1;
    let start = inside.start;
    let content = text.get(inside).unwrap_or_default();
    start + content.trim_end().len()
}

/// The column of a byte, in characters from 0.
fn column_of(text: &str, at: usize) -> usize {
    let before = text.get(..at).unwrap_or_default();
    before.get(before.rfind('\n').map_or(0, |newline| newline + 1)..).unwrap_or_default().chars().count()
}

/// How far the line of a byte is indented.
fn indent_of(text: &str, at: usize) -> usize {
    let before = text.get(..at).unwrap_or_default();
    let line = before.get(before.rfind('\n').map_or(0, |newline| newline + 1)..).unwrap_or_default();
    line.chars().take_while(|c| matches!(c, ' ' | '\t')).count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::{Shape, TerrainGrid};

    const TEXT: &str = r#"// mine
Site(
    format: 1,
    name: "lane", // where we went
    // the ground
    terrain: Plane(height_m: 0.0 /* flat */),
    blocks: [
        // left
        (name: "a (1)", at: (0, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)), // red
        (name: "b", subject: false, at: (20, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)) // last
    ],
)
"#;

    fn block(name: &str) -> Block {
        Block::plain(name, (1.0, 2.5), Shape::Box { width_m: 1.0, depth_m: 2.0, height_m: 3.0 })
    }

    fn changed(text: &str, change: impl FnOnce(&mut SiteEditor)) -> (String, Site) {
        let mut editor = SiteEditor::new(text, "lane").expect("good");
        change(&mut editor);
        let shown = editor.text.clone();
        editor.finish().unwrap_or_else(|problems| panic!("{problems}\n{shown}"))
    }

    /// The lines of `after` that are not in `before`; every line of `before` must be kept but those in `lost`.
    fn news<'a>(before: &str, after: &'a str, lost: usize) -> Vec<&'a str> {
        let missing = before.lines().filter(|line| !after.lines().any(|kept| kept == *line)).count();
        assert_eq!(missing, lost, "{after}");
        after.lines().filter(|line| !before.lines().any(|known| known == *line)).collect()
    }

    #[test]
    fn fields_of_blocks_are_set_or_put_in() {
        let (text, site) = changed(TEXT, |editor| {
            editor.set_block_field("a (1)", "subject", &true).expect("known");
            editor.set_block_field("b", "subject", &true).expect("known");
            editor.set_block_field("b", "at", &(1.5, 2.0)).expect("known");
        });
        assert!(site.blocks.iter().all(|block| block.subject));
        let news = news(TEXT, &text, 2);
        assert_eq!(
            news,
            [
                r#"        (name: "a (1)", subject: true, at: (0, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)), // red"#,
                r#"        (name: "b", subject: true, at: (1.5, 2.0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)) // last"#,
            ]
        );
    }

    #[test]
    fn blocks_are_added_behind_the_last_ones_comment() {
        let (text, site) = changed(TEXT, |editor| editor.append_blocks(&[block("c"), block("d")]).expect("added"));
        assert_eq!(site.blocks.len(), 4);
        let tail = text.split("(name: \"b\"").nth(1).expect("b");
        assert_eq!(
            tail,
            r#", subject: false, at: (20, 0), shape: Box(width_m: 8, depth_m: 6, height_m: 7)), // last
        (name: "c", at: (1.0, 2.5), shape: Box(width_m: 1.0, depth_m: 2.0, height_m: 3.0)),
        (name: "d", at: (1.0, 2.5), shape: Box(width_m: 1.0, depth_m: 2.0, height_m: 3.0)),
    ],
)
"#
        );
        for text in [
            "(format: 1, name: \"x\")",
            "(format: 1, name: \"x\", blocks: [])",
            "Site(\n    format: 1, name: \"x\", blocks: [\n        // none yet\n    ],\n)",
            "Site(\r\n  format: 1,\r\n  name: \"x\",\r\n  blocks: [ /* none */ ]\r\n)",
            "(format: 1, name: \"x\", blocks: [(name: \"a\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1))])",
            "(format: 1, name: \"x\" /* , */, blocks: [(name: \"a\", at: (0, 0), shape: Dome(radius_m: 1, height_m: 1)) /* ,\n */, ])",
        ] {
            let before = SiteEditor::new(text, "x").expect("good").finish().expect("good").1.blocks.len();
            let (changed, site) = changed(text, |editor| editor.append_blocks(&[block("c")]).expect("added"));
            assert_eq!(site.blocks.len(), before + 1, "{changed}");
            assert_eq!(changed.contains("none"), text.contains("none"));
            assert_eq!(
                changed.matches("\r\n").count(),
                if text.contains('\r') { changed.matches('\n').count() } else { 0 }
            );
        }
    }

    #[test]
    fn terrain_and_anchor_are_replaced_or_put_in() {
        let anchor = Anchor { latitude_deg: -33.5, longitude_deg: 151.25, height_m: 3.0, vertical_datum: None };
        let grid = Terrain::Grid(TerrainGrid {
            south_west: (-10.0, -10.0),
            spacing_m: (10.0, 10.0),
            turned_deg: 0.0,
            rows: vec![vec![1.0, 2.25, 3.0], vec![0.0, -1.0, 2.0]],
        });
        let (text, site) = changed(TEXT, |editor| {
            editor.set_anchor(&anchor).expect("set");
            editor.set_terrain(&grid).expect("set");
        });
        assert_eq!(site.anchor.as_ref(), Some(&anchor));
        assert_eq!(site.terrain, grid);
        let news = news(TEXT, &text, 1);
        assert_eq!(news[0], "    anchor: (latitude_deg: -33.5, longitude_deg: 151.25, height_m: 3.0),");
        assert!(text.contains("// where we went\n    anchor: "), "{text}");
        assert!(news.iter().any(|line| line.trim() == "[1, 2.25, 3],"), "{text}");
        let (text, _) = changed(&text, |editor| editor.set_anchor(&Anchor { height_m: 4.0, ..anchor }).expect("set"));
        assert_eq!(text.matches("anchor").count(), 1);
        let (text, _) = changed("(format: 1, name: \"x\")", |editor| {
            editor.set_terrain(&Terrain::Plane { height_m: 2.0 }).expect("set");
        });
        assert_eq!(text, "(format: 1, name: \"x\", terrain: Plane(height_m: 2.0),)");
    }

    #[test]
    fn what_cannot_be_is_refused_and_nothing_is_written() {
        let mut editor = SiteEditor::new(TEXT, "lane").expect("good");
        let error = editor.set_block_field("a(1)", "subject", &true).expect_err("unknown");
        assert_eq!(error.to_string(), "no block is called 'a(1)'; did you mean 'a (1)'?");
        editor.append_blocks(&[block("b")]).expect("taken up");
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("lane.site.ron");
        assert!(matches!(editor.save(&path), Err(EditError::Problems(problems)) if problems.has_errors()));
        assert!(!path.exists());
        let mut editor = SiteEditor::new(TEXT, "lane").expect("good");
        editor.append_blocks(&[block("c")]).expect("taken up");
        let saved = editor.save(&path).expect("saved");
        assert_eq!(crate::site::read_site(&path).expect("read").site, saved.site);
        assert!(SiteEditor::new("Site(", "x").is_err());
    }
}
