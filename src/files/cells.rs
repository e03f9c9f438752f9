//! How does a text stay a text in a table that a spreadsheet opens?

use std::borrow::Cow;

/// A text as a cell of a CSV file: one that a spreadsheet would run as a formula is led in by an apostrophe.
///
/// For texts only: a number stays as it is, whatever its sign.
///
/// # Source
/// OWASP, *CSV Injection*: `=`, `+`, `-`, `@`, tab, carriage return and line feed at the beginning of a cell, also in their
/// full widths; an apostrophe before them.
///
/// # Example
/// ```
/// use plumbsight::files::text_cell;
/// assert_eq!(text_cell("=1+1"), "'=1+1");
/// assert_eq!(text_cell("from the quay"), "from the quay");
/// ```
pub fn text_cell(text: &str) -> Cow<'_, str> {
    const RUN: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'];
    if text.starts_with(RUN) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}
